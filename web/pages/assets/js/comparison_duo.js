// The controls of the two videos of a comparison: which reps, where they are locked, playing and stepping.
import { tag, word } from "./comparison_sides.js";
import { $, $$, announce, fill, h, toast } from "./dom.js";
import { Duo } from "./duo.js";
import { deg, num } from "./format.js";
import { tempo } from "./signs.js";
import { named, say } from "./words.js";

/** @import { Comparison, MeasuredClip, Pair } from "api" */

/**
 * Starts the two videos with the reps of a pair.
 * @param {Comparison} doc
 * @param {MeasuredClip[]} clips
 * @param {Pair} pair
 * @param {() => void} faceChanged the reader wants faces blurred, or not any more
 */
export function startDuo(doc, clips, pair, faceChanged) {
  const duo = new Duo({ left: $("#left"), right: $("#right"), box: $("#videos"), shown: showTime });
  const scrub = $("#scrub");
  const options = clips.flatMap((c, i) =>
    c.motion.reps
      .filter((r) => !r.partial && (!doc.sides || r.tempo === doc.sides[i].tempo))
      .map((r) => ({
        key: `${i}:${r.number}`,
        clip: c,
        rep: r,
        tag: () => (doc.sides ? tag(doc.sides[i].key) : tempo(r.tempo)),
        text: say("duo.rep", {
          of: doc.sides ? word(doc.sides[i].key) : named("tempo", r.tempo),
          rep: num(r.number),
          clip: c.name,
        }),
      })),
  );
  const find = (key) => options.find((o) => o.key === key);
  const ofClip = (o) => say("duo.of_clip", { clip: o.clip.name, rep: num(o.rep.number) });
  for (const [i, name] of ["left", "right"].entries()) {
    const select = $(`#${name}-rep`);
    fill(
      select,
      options.map((o) => h("option", { value: o.key }, o.text)),
    );
    const want = i ? `${pair.challenge_clip}:${pair.challenge_rep}` : `${pair.baseline_clip}:${pair.baseline_rep}`;
    select.value = find(want) ? want : options[Math.min(i, options.length - 1)].key;
    const choose = () => {
      const o = find(select.value);
      duo.choose(i, o.clip, o.rep);
      fill($(`#${name}-cap`), o.tag(), " ", ofClip(o));
      if (duo.ready) limits();
    };
    select.addEventListener("change", choose);
    choose();
  }
  function limits() {
    const landing = duo.sides.some((s) => s.rep.flight_s > 0);
    $("#lock-field").hidden = !landing;
    if (!landing && duo.key !== "bottom_s") {
      duo.key = "bottom_s";
      $("#lock").value = duo.key;
    }
    lockWords();
    const [lo, hi] = duo.range;
    scrub.min = String(lo);
    scrub.max = String(hi);
    scrub.step = "any";
    duo.seek(duo.t);
  }
  /** Where the two are locked. @returns {"bottom" | "landing"} */
  function place() {
    return duo.key === "landing_bottom_s" ? "landing" : "bottom";
  }
  function lockWords() {
    $("#duo-h").textContent = say(`duo.${duo.over ? "over" : "side"}_${place()}`);
    $("#to-bottom").textContent = say(`duo.to_${place()}`);
    scrub.setAttribute("aria-label", say(`duo.seconds_${place()}`));
  }
  function showTime(t) {
    scrub.value = String(t);
    const time = num(Math.abs(t), 2);
    const where = t === 0 ? say(`duo.at_${place()}`) : say(`duo.${t < 0 ? "before" : "after"}_${place()}`, { time });
    scrub.setAttribute("aria-valuetext", where);
    const values = (s) =>
      s.motion.joints.map((k) => `${k.short} ${deg(s.motion.value(k.key, s.lock(duo.key) + t))}`).join(", ");
    const signed = (t < 0 ? "−" : t > 0 ? "+" : "") + time;
    fill(
      $("#readout"),
      h("strong", {}, say(`duo.from_${place()}`, { time: signed })),
      doc.pairs.some((p) => p.front)
        ? null
        : duo.sides.map((s, i) =>
            h("span", {}, say(i ? "duo.right_values" : "duo.left_values", { values: values(s) })),
          ),
    );
  }
  const view = (over) => {
    duo.over = over;
    lockWords();
    $("#values-switch").hidden = over; // two sets of values on one picture cannot be told apart
    $("#duo").classList.toggle("laid", over);
    $("#duo").lastElementChild.hidden = over;
    $("#view-over").setAttribute("aria-pressed", String(over));
    $("#view-side").setAttribute("aria-pressed", String(!over));
    const [a, b] = ["#left-rep", "#right-rep"].map((s) => find($(s).value));
    fill(
      $("#left-cap"),
      a.tag(),
      " ",
      ofClip(a),
      over ? [` ${say("duo.under")} `, b.tag(), " ", ofClip(b), ` ${say("duo.over_it")}`] : [],
    );
    duo.draw();
  };
  $("#view-side").addEventListener("click", () => view(false));
  $("#view-over").addEventListener("click", () => view(true));
  for (const s of ["#left-rep", "#right-rep"]) $(s).addEventListener("change", () => view(duo.over));
  $("#lock").addEventListener("change", () => {
    duo.stop();
    duo.key = $("#lock").value;
    limits();
    duo.seek(0);
  });
  scrub.addEventListener("input", () => {
    duo.stop();
    duo.seek(Number(scrub.value));
  });
  let telling;
  const step = (n) => {
    duo.stop();
    duo.step(n);
    clearTimeout(telling); // a screen reader is told once no other step follows
    telling = setTimeout(() => announce($("#readout").textContent), 400);
  };
  duo.onBroken = (clip) =>
    toast(
      clip.result?.files.some((f) => f.name === "web.mp4")
        ? say("duo.no_video", { clip: clip.name })
        : say("duo.video_soon", { clip: clip.name }),
      true,
    );
  $("#duo").addEventListener("pointerdown", () => $("#duo").focus({ preventScroll: true }));
  $("#back1").addEventListener("click", () => step(-1));
  $("#on1").addEventListener("click", () => step(1));
  $("#to-bottom").addEventListener("click", () => {
    duo.stop();
    duo.seek(0);
  });
  $("#play").addEventListener("click", () => duo.toggle());
  duo.onPlayed = (playing) => {
    $("#play").textContent = playing ? say("play.pause") : say("play.play");
  };
  for (const b of $$("#speeds button"))
    b.addEventListener("click", () => {
      duo.stop();
      duo.rate = Number(b.dataset.rate);
      for (const o of $$("#speeds button")) o.setAttribute("aria-pressed", String(o === b));
    });
  for (const input of $$("#switches input[value]"))
    input.addEventListener("change", () => {
      duo.on[input.value] = input.checked;
      duo.draw();
      if (input.value === "face") faceChanged();
    });
  $("#whole").addEventListener("change", () => {
    duo.whole = $("#whole").checked;
    duo.draw();
  });
  addEventListener("resize", () => duo.draw());
  addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey || e.defaultPrevented || document.querySelector("dialog[open]")) return;
    const el = /** @type {HTMLElement} */ (e.target);
    if (
      el.matches?.("input:not([type=range]), select, textarea") ||
      (e.key === " " && el.matches?.("button, a, summary"))
    )
      return;
    if (!el.closest?.(".stage")) return; // the keys are the pictures': elsewhere they scroll the page
    const many = e.shiftKey ? 10 : 1;
    const act = {
      ArrowLeft: () => step(-many),
      ArrowRight: () => step(many),
      " ": () => duo.toggle(),
      Home: () => {
        duo.stop();
        duo.seek(0);
      },
    }[e.key];
    if (!act) return;
    e.preventDefault();
    act();
  });
  // Where positions are read in landings, they are shown there.
  if (doc.ladder.rungs.some((r) => r.cells.some((c) => c.landing)) && duo.sides.some((s) => s.rep.flight_s > 0)) {
    duo.key = "landing_bottom_s";
    $("#lock").value = duo.key;
  }
  limits();
  duo.seek(0);
  return duo;
}
