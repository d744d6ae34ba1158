// Choosing the clips to compare.
import { post } from "./api.js";
import { $, $$, announce, complain, fill, h, toast } from "./dom.js";
import { num, parse } from "./format.js";
import { say } from "./words.js";

const athlete = $("#athlete");
$("#show-clips")?.setAttribute("hidden", "");
athlete?.addEventListener("change", () => {
  if (athlete.value) location.assign(`/compare?athlete=${encodeURIComponent(athlete.value)}`);
});

const form = $("#pick-form");
if (form) {
  const boxes = $$("input[name=clip]", form);
  const chosen = new Set(form.dataset.chosen.trim().split(" "));
  const order = []; // as chosen: where all clips have one tempo, it tells which is the baseline
  for (const b of boxes) {
    b.checked = chosen.has(b.value);
    if (b.checked) order.push(b.value);
    b.addEventListener("change", () => {
      if (b.checked) order.push(b.value);
      else order.splice(order.indexOf(b.value), 1);
      show();
    });
  }
  if (chosen.size) order.sort((a, b) => [...chosen].indexOf(a) - [...chosen].indexOf(b));
  $("#smallest").value = num(5);
  // The order from easy to hard: found, until the coach says otherwise.
  let inOrder = false;
  const nameOf = (id) => $("strong", boxes.find((b) => b.value === id).closest("label")).textContent;
  const easier = (i) => {
    inOrder = true;
    order.splice(i - 1, 2, order[i], order[i - 1]);
    show();
    announce(say("choose.moved", { clip: nameOf(order[i - 1]), place: num(i) }));
    ($("#order button") || $("#go")).focus();
  };
  const showOrder = () => {
    $("#order-box").hidden = order.length < 2;
    const one = (id, i) => {
      const label = say("choose.easier_clip", { clip: nameOf(id) });
      const up = { type: "button", class: "small-btn", "aria-label": label, on: { click: () => easier(i) } };
      return h("li", {}, nameOf(id), " ", i > 0 && h("button", up, say("choose.easier")));
    };
    fill($("#order"), order.map(one));
  };
  const show = () => {
    showOrder();
    const n = order.length;
    const ok = n === 2 || n === 3;
    $("#go").disabled = !ok;
    $("#pick-note").textContent = ok ? say("choose.chosen", { n }) : n > 3 ? say("choose.too_many") : say("choose.how");
  };
  show();
  form.addEventListener("submit", async (e) => {
    e.preventDefault();
    const deg = parse($("#smallest").value);
    if (deg === null || !(deg > 0 && deg <= 90)) {
      $("#smallest").setAttribute("aria-invalid", "true");
      $("#smallest").focus();
      toast(say("choose.smallest", { least: num(0), most: num(90) }), true);
      return;
    }
    $("#go").disabled = true;
    try {
      const { id } = await post("/api/comparisons", {
        clips: order,
        smallest_change_deg: deg,
        retest: $("#retest").value,
        in_order: inOrder,
      });
      location.assign(`/comparisons/${id}`);
    } catch (err) {
      complain(err);
      show();
    }
  });
}
