// The part of a clip that is measured. The clip stays whole: what is cut off can be had back.
import { call } from "./api.js";
import { $, complain } from "./dom.js";
import { num } from "./format.js";
import { say } from "./words.js";

/** @import { ClipPage } from "./clip.js" */

/** Starts trimming on the page of a clip. @param {ClipPage} page */
export function startTrim(page) {
  const set = async (change) => {
    for (const b of buttons) b.disabled = true;
    try {
      await call("PATCH", `/api/clips/${page.id}`, change);
      await page.refresh();
    } catch (err) {
      complain(err);
    }
    for (const b of buttons) b.disabled = false;
  };
  const here = () => page.motion.times[page.player.frame];
  const buttons = [$("#trim-from"), $("#trim-to"), $("#trim-off")];
  $("#trim-from").addEventListener("click", () => set({ trim_from_s: here() }));
  $("#trim-to").addEventListener("click", () => set({ trim_to_s: here() }));
  $("#trim-off").addEventListener("click", () => set({ trim_from_s: null, trim_to_s: null }));
}

/** Shows what is measured, and lets nobody scrub out of it. @param {ClipPage} page */
export function showTrim(page) {
  const { trim_from_s: from, trim_to_s: to } = page.info.clip;
  const { times } = page.motion;
  const whole = from === null && to === null;
  const at = (t) => page.motion.frameAt(t / page.motion.factor);
  page.player.range = [from === null ? 0 : at(from), to === null ? times.length - 1 : at(to)];
  const [first, last] = page.player.range;
  $("#scrub").min = String(first);
  $("#scrub").max = String(last);
  $("#trim-off").hidden = whole;
  $("#trim-now").textContent = whole
    ? say("trim.whole")
    : say("trim.part", { from: num(times[first], 2), to: num(times[last], 2), end: num(times.at(-1), 2) });
  if (page.player.frame < first || page.player.frame > last) page.player.seek(page.player.frame);
}
