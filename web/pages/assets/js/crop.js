// The part of the picture that is shown: the athlete with some room, or the whole of it.

/** @import { Motion } from "./motion.js" */
/** @typedef {{x: number, y: number, w: number, h: number}} View */

const room = 0.16; // of the athlete's height, to every side: the points of the head end at the ear
const spare = 0.8; // a part of the picture larger than this is not worth cutting
const rare = 0.005; // of the points may lie beyond: single ones jump away

/**
 * Where the athlete is in any frame.
 * @param {Motion} motion
 * @returns {View}
 */
export function athleteView(motion) {
  const whole = wholeView(motion);
  const ends = (k) => {
    const list = motion.frames.points
      .flatMap((f) => (f || []).map((p) => (p ? p[k] : null)))
      .filter((v) => Number.isFinite(v))
      .sort((a, b) => a - b);
    return list.length
      ? [list[Math.floor(rare * (list.length - 1))], list[Math.ceil((1 - rare) * (list.length - 1))]]
      : null;
  };
  const [xs, ys] = [ends(0), ends(1)];
  if (!xs || !ys) return whole;
  const more = room * (ys[1] - ys[0]);
  const left = Math.max(0, xs[0] - more);
  const top = Math.max(0, ys[0] - more);
  const view = {
    x: left,
    y: top,
    w: Math.min(whole.w, xs[1] + more) - left,
    h: Math.min(whole.h, ys[1] + more) - top,
  };
  return view.w * view.h > spare * whole.w * whole.h || !(view.w > 0 && view.h > 0) ? whole : view;
}

/**
 * @param {Motion} motion
 * @returns {View}
 */
export const wholeView = (motion) => ({ x: 0, y: 0, w: motion.width, h: motion.height });
