// The body as the page bends it while somebody drags a point: until the server's numbers come, so that skeleton and
// angles follow the finger. Segments keep the length they have in the frame, and the foot its shape.

/** @typedef {Record<string, number[]>} Points */

const segments = [
  ["ankle", "knee"],
  ["knee", "hip"],
  ["hip", "shoulder"],
  ["ankle", "heel"],
  ["heel", "toe"],
  ["ankle", "toe"],
];

const rounds = 80; // within a hundredth of a pixel after a drag of half a leg

/**
 * The points of one frame after one of them was put elsewhere: the others go as little as the lengths let them.
 * @param {Points} points
 * @param {string} name
 * @param {number[]} to
 * @returns {Points}
 */
export function follow(points, name, to) {
  const now = Object.fromEntries(Object.entries(points).map(([k, p]) => [k, [...p]]));
  now[name] = [...to];
  const held = segments
    .filter(([a, b]) => now[a] && now[b])
    .map(([a, b]) => ({ a, b, length: Math.hypot(points[a][0] - points[b][0], points[a][1] - points[b][1]) }));
  if (!held.some((s) => s.a === name || s.b === name)) return now; // head and arms hang on nothing
  for (let i = 0; i < rounds; i++) {
    for (const { a, b, length } of held) {
      const [p, q] = [now[a], now[b]];
      const d = [q[0] - p[0], q[1] - p[1]];
      const is = Math.hypot(d[0], d[1]) || 1e-9;
      const share = a === name ? 0 : b === name ? 1 : 0.5;
      const off = (is - length) / is;
      now[a] = [p[0] + share * off * d[0], p[1] + share * off * d[1]];
      now[b] = [q[0] - (1 - share) * off * d[0], q[1] - (1 - share) * off * d[1]];
    }
  }
  return now;
}

const deg = (rad) => (rad * 180) / Math.PI;
const way = (p, q) => [q[0] - p[0], q[1] - p[1]];
const turn = (u, v) => deg(Math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]));

/**
 * The angles of a pose without the athlete's own standing: good for telling by how much one pose differs from another.
 * @param {Points} p
 * @param {number} forward 1 when the athlete faces right, -1 when left
 * @returns {Record<string, number>}
 */
export function anglesOf(p, forward) {
  const lean = (from, to) => (from && to ? deg(Math.atan2(forward * (to[0] - from[0]), from[1] - to[1])) : NaN);
  const bend = (a, b, c, sign) => (a && b && c ? sign * forward * turn(way(a, b), way(b, c)) : NaN);
  const foot = p.heel && p.toe ? deg(Math.atan2(p.heel[1] - p.toe[1], forward * (p.toe[0] - p.heel[0]))) : NaN;
  return {
    knee_flexion: bend(p.hip, p.knee, p.ankle, 1),
    hip_flexion: bend(p.shoulder, p.hip, p.knee, -1),
    ankle_dorsiflexion: lean(p.ankle, p.knee) + foot,
    trunk_lean: lean(p.hip, p.shoulder),
    shoulder_flexion:
      p.hip && p.shoulder && p.elbow ? -forward * turn(way(p.shoulder, p.hip), way(p.shoulder, p.elbow)) : NaN,
    elbow_flexion: bend(p.shoulder, p.elbow, p.wrist, -1),
  };
}
