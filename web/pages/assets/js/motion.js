// An analysis as the page reads it: where a point is, what an angle is, at a moment of
// the file. The times of an analysis are those of the movement; the file's are longer by
// the slow motion factor.
import { jointColours } from "./colours.js";
import { half95, known } from "./format.js";
import { between, lastAtOrBefore, nearest, place, undoCamera } from "./frames.js";
import { angles, named, say } from "./words.js";

/**
 * The angles that are drawn, from the ground up: of each the joint, how its curve and its sign look, and of a joint by
 * which limb it is seen and how that turns on the screen of who faces right.
 */
const kinds = [
  {
    key: "ankle_dorsiflexion",
    joint: "ankle",
    name: angles.ankle_dorsiflexion,
    short: named("limb", "ankle_dorsiflexion"),
    color: jointColours.ankle,
    dash: [9, 4],
    sign: "triangle",
    limb: "knee",
    turn: 1,
  },
  {
    key: "knee_flexion",
    joint: "knee",
    name: angles.knee_flexion,
    short: named("limb", "knee_flexion"),
    color: jointColours.knee,
    dash: [],
    sign: "disc",
    limb: "ankle",
    turn: 1,
  },
  {
    key: "hip_flexion",
    joint: "hip",
    name: angles.hip_flexion,
    short: named("limb", "hip_flexion"),
    color: jointColours.hip,
    dash: [10, 3, 2, 3],
    sign: "square",
    limb: "knee",
    turn: -1,
  },
  {
    key: "shoulder_flexion",
    joint: "shoulder",
    name: angles.shoulder_flexion,
    short: named("limb", "shoulder_flexion"),
    color: jointColours.shoulder,
    dash: [14, 3],
    sign: "diamond",
    limb: "elbow",
    turn: -1,
  },
  {
    key: "elbow_flexion",
    joint: "elbow",
    name: angles.elbow_flexion,
    short: named("limb", "elbow_flexion"),
    color: jointColours.elbow,
    dash: [5, 2],
    sign: "tip",
    limb: "wrist",
    turn: -1,
  },
  {
    key: "trunk_lean",
    joint: "trunk",
    name: angles.trunk_lean,
    short: named("limb", "trunk_lean"),
    color: jointColours.trunk,
    dash: [2, 3],
    sign: "bar",
  },
];

/** @typedef {typeof kinds[number]} Kind */

/**
 * The 95 % interval of a support point: the weight cannot act off the foot.
 * @param {number} pct
 * @param {number} sd
 * @returns {[number, number]}
 */
export const onFoot = (pct, sd) => [Math.max(0, pct - half95(sd)), Math.min(100, pct + half95(sd))];

/** The points of the near side that are drawn and can be corrected. */
export const pointNames = ["ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe"];

export const bones = [
  ["ear", "shoulder"],
  ["shoulder", "elbow"],
  ["elbow", "wrist"],
  ["shoulder", "hip"],
  ["hip", "knee"],
  ["knee", "ankle"],
  ["ankle", "heel"],
  ["heel", "toe"],
];

const head = [
  "nose",
  "left_eye",
  "right_eye",
  "left_ear",
  "right_ear",
  "mouth_left",
  "mouth_right",
  "left_eye_outer",
  "right_eye_outer",
];

/** The moments of a rep that one can jump to. */
const momentsOf = () => [
  ["start_s", say("moment.start")],
  ["bottom_s", say("moment.bottom")],
  ["takeoff_s", say("moment.takeoff")],
  ["contact_s", say("moment.contact")],
  ["landing_bottom_s", say("moment.landing_bottom")],
  ["end_s", say("moment.end")],
];

/** @import { Analysis, Frames, Rep } from "api" */

export class Motion {
  /**
   * @param {Analysis} analysis
   * @param {Frames} frames
   */
  constructor(analysis, frames) {
    this.a = analysis;
    this.frames = frames;
    this.times = frames.time_s;
    this.factor = analysis.clip.slow_motion_factor || 1;
    this.width = frames.width_px;
    this.height = frames.height_px;
    this.series = analysis.series;
    this.forward = analysis.facing === "left" ? -1 : 1;
    this.reps = analysis.reps;
    const counts = analysis.movement?.joints?.length ? analysis.movement.joints : ["ankle", "knee", "hip"];
    /** @type {Kind[]} the angles of the joints that count in the movement */
    this.joints = kinds.filter((k) => counts.includes(k.joint));
    /** @type {Kind[]} those whose curves are shown */
    this.curves = [...this.joints, ...kinds.filter((k) => k.sign === "bar")];
    /** Whether it is known anywhere in the clip where the weight acts. */
    this.hasSupport = (analysis.series.support_pct || []).some(known);
    /** @type {number | undefined} */
    this.lowest = undefined;
    // A moment between two frames belongs to the frame shown nearest to it.
    this.half = 0.51 / (analysis.series.rate_hz || 30);
  }

  /** The moment of the movement at a frame, in seconds. */
  timeOf(frame) {
    return this.times[frame] / this.factor;
  }

  /** The frame shown at a moment of the movement. */
  frameAt(timeS) {
    return nearest(this.times, timeS * this.factor);
  }

  at(timeS) {
    return place(this.series.time_s, timeS);
  }

  value(key, timeS) {
    const list = this.series.angles_deg[key];
    return list ? between(list, this.at(timeS)) : NaN;
  }

  sample(list, timeS) {
    if (!list?.length) return undefined;
    return list[Math.round(this.at(timeS))];
  }

  filled(timeS) {
    return Boolean(this.sample(this.series.filled, timeS) || this.sample(this.series.missing, timeS));
  }

  /** The support point at a moment and the ends of its interval; NaN where they are not known. */
  support(timeS) {
    const at = this.at(timeS);
    const pct = between(this.series.support_pct || [], at);
    return { pct, ends: onFoot(pct, between(this.series.support_sd_pct || [], at)) };
  }

  camera(timeS) {
    return this.series.camera ? this.sample(this.series.camera, timeS) : null;
  }

  /** A point of the near side in the picture of that moment, or null. */
  point(name, timeS) {
    const p = this.series.points_px[name];
    if (!p) return null;
    const at = this.at(timeS);
    const x = between(p.x, at);
    const y = between(p.y, at);
    if (!Number.isFinite(x) || !Number.isFinite(y)) return null;
    return undoCamera(this.camera(timeS), [x, y]);
  }

  /** How far down the picture the near foot comes, pixels; 0 when it is never seen. */
  get footY() {
    this.lowest ??= Math.max(
      0,
      ...["heel", "toe"].flatMap((n) => this.series.points_px[n]?.y || []).filter(Number.isFinite),
    );
    return this.lowest;
  }

  /** Where the network saw a point of the near side in a frame, or null. */
  tracked(name, frame) {
    const points = this.frames.points[frame];
    if (!points) return null;
    const k = this.frames.names.indexOf(`${this.a.near_side}_${name === "toe" ? "foot_index" : name}`);
    const p = points[k];
    return p && p[0] !== null && p[1] !== null ? [p[0], p[1]] : null;
  }

  /** The head in a frame: its middle and its radius in pixels; of the nearest frame that shows it. */
  head(frame) {
    for (let d = 0; d < 40; d++) {
      for (const i of d ? [frame - d, frame + d] : [frame]) {
        const points = this.frames.points[i];
        if (!points) continue;
        const of = (name) => points[this.frames.names.indexOf(name)];
        const ok = (p) => p && p[0] !== null && p[1] !== null;
        const seen = head.map(of).filter(ok);
        const shoulder = of(`${this.a.near_side}_shoulder`);
        if (!seen.length || !ok(shoulder)) continue;
        // The points of the face end at the ear; half way from there to the nose lies the middle of what must go.
        const ear = of(`${this.a.near_side}_ear`);
        const nose = of("nose");
        const x = ok(ear) && ok(nose) ? (ear[0] + nose[0]) / 2 : seen.reduce((s, p) => s + p[0], 0) / seen.length;
        const y = ok(ear) && ok(nose) ? (ear[1] + nose[1]) / 2 : seen.reduce((s, p) => s + p[1], 0) / seen.length;
        const far = Math.max(...seen.map((p) => Math.hypot(p[0] - x, p[1] - y)));
        return { x, y, r: Math.max(1.7 * far, 0.5 * Math.hypot(shoulder[0] - x, shoulder[1] - y)) };
      }
    }
    return null;
  }

  /**
   * The moments of a rep, in order: {name, timeS}.
   * @param {Rep} rep
   */
  moments(rep) {
    const jump = rep.flight_s > 0;
    return momentsOf()
      .filter(
        ([key]) =>
          Number.isFinite(rep[key]) &&
          rep[key] !== null &&
          (jump || !["takeoff_s", "contact_s", "landing_bottom_s"].includes(key)),
      )
      .map(([key, name]) => ({ key, name, timeS: rep[key] }))
      .sort((a, b) => a.timeS - b.timeS);
  }

  /** The index of the rep at a moment, or of the one before it; 0 before all, -1 without reps. */
  repAt(timeS) {
    if (!this.reps.length) return -1;
    const inside = this.reps.findLastIndex((r) => timeS >= r.start_s - this.half && timeS <= r.end_s + this.half);
    return inside >= 0
      ? inside
      : lastAtOrBefore(
          this.reps.map((r) => r.start_s),
          timeS,
        );
  }

  /** The phase at a moment in words. */
  phaseAt(timeS) {
    const rep = this.reps.findLast((r) => timeS >= r.start_s - this.half && timeS <= r.end_s + this.half);
    if (!rep) return say(this.a.plain ? "rep.without" : "rep.between");
    const phase = rep.phases.findLast((p) => timeS >= p.start_s - this.half && timeS <= p.end_s + this.half);
    return phase
      ? say("rep.phase", { rep: rep.number, phase: named("phase", phase.name) })
      : say("rep.number", { rep: rep.number });
  }
}
