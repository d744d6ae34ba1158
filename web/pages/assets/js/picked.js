// Several clips of an athlete at once: chosen on their cards, then moved, measured again or deleted.
import { call, post } from "./api.js";
import { $, $$, h, toast } from "./dom.js";
import { searched, sorted } from "./lists.js";
import { say } from "./words.js";

const cards = () => $$("#visits .clip-card");
const chosen = () => cards().filter((c) => c.querySelector(".pick-box")?.checked);

function show() {
  const on = $("#pick").getAttribute("aria-pressed") === "true";
  for (const card of cards()) {
    let box = card.querySelector(".pick-box");
    if (on && !box) {
      const name = card.querySelector(".clip-name").textContent;
      box = h("input", {
        type: "checkbox",
        class: "pick-box",
        "aria-label": say("picked.choose", { clip: name }),
        data: { testid: "pick-box" },
        on: { change: show },
      });
      card.prepend(box);
    }
    if (!on) box?.remove();
    card.classList.toggle("picked", Boolean(box?.checked && on));
  }
  const n = chosen().length;
  $("#pick-bar").hidden = !on;
  $("#picked").textContent = say("picked.n", { n });
  for (const b of $$("#pick-move, #pick-measure, #pick-delete")) b.disabled = n === 0;
}

/**
 * Does something to each chosen clip, one after the other, and says of how many it went well.
 * @param {(id: string) => Promise<any>} what
 * @param {"picked.deleted" | "picked.measured" | "picked.moved"} told
 */
async function each(what, told) {
  let n = 0;
  const failed = [];
  for (const card of chosen()) {
    try {
      await what(card.dataset.clip);
      n++;
    } catch (err) {
      failed.push(`${card.querySelector(".clip-name").textContent}: ${err.plain ? err.plain() : say("went_wrong")}`);
    }
  }
  if (failed.length) toast([say(told, { n }), ...failed].join(" "), true);
  return failed.length === 0;
}

/** Starts choosing, searching and sorting the clips of an athlete's page. */
export function startPicking() {
  if (!$("#pick")) return;
  $("#pick").addEventListener("click", () => {
    $("#pick").setAttribute("aria-pressed", String($("#pick").getAttribute("aria-pressed") !== "true"));
    show();
  });
  $("#pick-all").addEventListener("click", () => {
    const seen = cards().filter((c) => !c.hidden);
    const all = seen.every((c) => c.querySelector(".pick-box").checked);
    for (const c of seen) c.querySelector(".pick-box").checked = !all;
    show();
  });
  $("#pick-move").addEventListener("click", () => $("#move-dialog").showModal());
  $("#pick-delete").addEventListener("click", () => {
    $("#clips-h").textContent = say("picked.delete", { n: chosen().length });
    $("#clips-dialog").showModal();
  });
  $("#clips-yes").addEventListener("click", async () => {
    $("#clips-yes").disabled = true;
    const all = await each((id) => call("DELETE", `/api/clips/${id}`), "picked.deleted");
    $("#clips-dialog").close();
    if (all) location.reload();
  });
  $("#pick-measure").addEventListener("click", async () => {
    if (await each((id) => post(`/api/clips/${id}/measure?again=1`), "picked.measured"))
      toast(say("picked.measured", { n: chosen().length }));
  });
  $("#move-form").addEventListener("submit", async (e) => {
    e.preventDefault();
    const change = { athlete: $("#m-athlete").value };
    if ($("#m-date").value) change.date = $("#m-date").value;
    if ($("#m-condition").value) change.condition = $("#m-condition").value;
    if ($("#m-condition").value && $("#m-condition").value !== "loaded") change.load_kg = null;
    const all = await each((id) => call("PATCH", `/api/clips/${id}`, change), "picked.moved");
    $("#move-dialog").close();
    if (all) location.reload();
  });
  searched($("#find"), cards(), $$("#visits article"));
  $("#sort").addEventListener("change", () => {
    const way = $("#sort").value === "old" ? 1 : -1;
    sorted($$("#visits > article"), (a, b) => way * a.dataset.date.localeCompare(b.dataset.date));
  });
}
