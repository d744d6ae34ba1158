// The part of the picture that is shown: the athlete with some room, or the whole of it.

/** @import { Motion } from "./motion.js" */
/** @typedef {{x: number, y: number, w: number, h: number}} View */

const room = 0.16; // of the athlete's height, to every side: the points of the head end at the ear
const spare = 0.8; // a part of the picture larger than this is not worth cutting
const rare = 0.005; // of the points may lie beyond: single ones jump away

/**
 * Where the athlete is in some frames, or in any.
 * @param {Motion} motion
 * @param {number[]} [frames]
 * @returns {View}
 */
export function athleteView(motion, frames) {
  const whole = wholeView(motion);
  const seen = frames ? frames.map((i) => motion.frames.points[i]) : motion.frames.points;
  const ends = (k) => {
    const list = seen
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

/**
 * How long the leg is in the picture at a moment, by thigh and shank: those are as long in the bottom as in standing.
 * @param {Motion} motion
 * @param {number} timeS
 */
export function legPx(motion, timeS) {
  const [p, q, r] = ["hip", "knee", "ankle"].map((n) => motion.point(n, timeS));
  return p && q && r ? Math.hypot(p[0] - q[0], p[1] - q[1]) + Math.hypot(q[0] - r[0], q[1] - r[1]) : motion.height / 3;
}

/**
 * What is shown of two clips, va and vb, made larger so that both athletes are shown in the same size, on the same
 * floor: k is how many pixels of the first clip are as long as one of the second.
 * @param {[Motion, View]} first
 * @param {[Motion, View]} second
 * @param {number} k
 * @returns {[View, View]}
 */
export function alike([a, va], [b, vb], k) {
  const views = [va, vb];
  const w = Math.max(views[0].w, views[1].w * k);
  const h = Math.max(views[0].h, views[1].h * k);
  const grown = (v, motion, s) => {
    const x = v.x + (v.w - w / s) / 2;
    // Inside the picture as far as it reaches.
    const inside = w / s <= motion.width ? Math.max(0, Math.min(motion.width - w / s, x)) : (motion.width - w / s) / 2;
    return { x: inside, y: v.y + v.h - h / s, w: w / s, h: h / s };
  };
  return [grown(views[0], a, 1), grown(views[1], b, k)];
}
