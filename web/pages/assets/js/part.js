// The part of a clip that counts where the clip fits no movement: two times, typed or taken from the picture.
import { $, announce, toast } from "./dom.js";
import { num, parse } from "./format.js";
import { say } from "./words.js";

/** @import { ClipPage } from "./clip.js" */

/** Lets the coach mark the part. @param {ClipPage} page */
export function startPart(page) {
  const [from, to] = [$("#part-from"), $("#part-to")];
  const here = (field) => () => {
    field.value = num(page.motion.timeOf(page.player.frame), 2);
  };
  const set = async (part, what) => {
    await page.correcting.apply((doc) => {
      if (part) doc.part = part;
      else delete doc.part;
    }, what);
    announce($("#part-now").textContent);
  };
  $("#part-from-here").addEventListener("click", here(from));
  $("#part-to-here").addEventListener("click", here(to));
  $("#part-off").addEventListener("click", () => set(null, say("did.part_off")));
  $("#part-box").addEventListener("submit", (e) => {
    e.preventDefault();
    const times = [parse(from.value), parse(to.value)];
    if (!times.every(Number.isFinite) || times[0] >= times[1]) {
      toast(say("part.two_times"), true);
      return;
    }
    set({ from_s: times[0], to_s: times[1] }, say("did.part", { from: num(times[0], 2), to: num(times[1], 2) }));
  });
}

/** Shows which part counts. @param {ClipPage} page */
export function showPart(page) {
  const { plain } = page.motion.a;
  $("#part-box").hidden = !plain;
  if (!plain) return;
  $("#part-from").value = num(plain.from_s, 2);
  $("#part-to").value = num(plain.to_s, 2);
  $("#part-off").hidden = !plain.marked;
  $("#part-now").textContent = plain.marked
    ? say("part.part", { from: num(plain.from_s, 2), to: num(plain.to_s, 2) })
    : say("part.whole");
}
