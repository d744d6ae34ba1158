// The arithmetic of frames and times. Nothing here touches the page.

/** Index of the last entry of a rising list that is not above t; 0 when t lies before all. */
export function lastAtOrBefore(list, t) {
  let lo = 0;
  let hi = list.length - 1;
  while (lo < hi) {
    const mid = (lo + hi + 1) >> 1;
    if (list[mid] <= t) lo = mid;
    else hi = mid - 1;
  }
  return Math.max(0, lo);
}

/** Index of the entry of a rising list that lies nearest to t. */
export function nearest(list, t) {
  const i = lastAtOrBefore(list, t);
  return i + 1 < list.length && list[i + 1] - t < t - list[i] ? i + 1 : i;
}

/** How long frame i is shown, in seconds; that of the last one is like the one before it. */
export function shownFor(times, i) {
  if (times.length < 2) return 1 / 30;
  return i + 1 < times.length ? times[i + 1] - times[i] : times[i] - times[i - 1];
}

/** The middle of the time for which frame i is shown: where to seek so that no rounding shows its neighbour. */
export const middle = (times, i) => times[i] + shownFor(times, i) / 2;

/** A value between two samples; NaN when one of them is missing and the other is not hit. */
export function between(list, at) {
  const i = Math.floor(at);
  const part = at - i;
  const a = list[i];
  const b = list[i + 1];
  if (part < 1e-6 || b === undefined) return a ?? NaN;
  if (part > 1 - 1e-6) return b ?? NaN;
  return a === null || b === null || a === undefined ? NaN : a + (b - a) * part;
}

/** Where in a rising list t lies, as an index with a fraction, kept inside the list. */
export function place(list, t) {
  const i = lastAtOrBefore(list, t);
  if (t <= list[0]) return 0;
  if (i >= list.length - 1) return list.length - 1;
  return i + (t - list[i]) / (list[i + 1] - list[i]);
}

/** @import { Camera } from "api" */

/**
 * Undoes a similarity: the place in the first picture becomes one in the sample's own.
 * @param {Camera | null} camera
 * @param {number[]} place
 */
export function undoCamera(camera, [x, y]) {
  if (!camera) return [x, y];
  const a = (camera.angle_deg * Math.PI) / 180;
  const s = camera.scale;
  const u = (x - camera.dx_px) / s;
  const v = (y - camera.dy_px) / s;
  return [Math.cos(a) * u + Math.sin(a) * v, -Math.sin(a) * u + Math.cos(a) * v];
}

/**
 * A place in the sample's own picture becomes one in the first.
 * @param {Camera | null} camera
 * @param {number[]} place
 */
export function applyCamera(camera, [x, y]) {
  if (!camera) return [x, y];
  const a = (camera.angle_deg * Math.PI) / 180;
  const s = camera.scale;
  return [
    s * (Math.cos(a) * x - Math.sin(a) * y) + camera.dx_px,
    s * (Math.sin(a) * x + Math.cos(a) * y) + camera.dy_px,
  ];
}

/**
 * By how many degrees a picture is turned clockwise in which an upright thing goes from one place to another.
 * @param {number[]} from
 * @param {number[]} to
 */
export function turnOf([x1, y1], [x2, y2]) {
  const up = y1 < y2 ? [x1 - x2, y2 - y1] : [x2 - x1, y1 - y2]; // from the lower end to the upper
  return (Math.atan2(up[0], up[1]) * 180) / Math.PI;
}
