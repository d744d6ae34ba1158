// The tables of measures: a column a rep, a row a measure, the 95 % interval below each value.
import { $$, fill, h } from "./dom.js";
import { half95, known, noZero, num } from "./format.js";
import { estimate, tempo, valued, whyPartial } from "./signs.js";
import { angles, grades } from "./words.js";

const joints = [
  ["ankle", angles.ankle_dorsiflexion],
  ["knee", angles.knee_flexion],
  ["hip", angles.hip_flexion],
  ["shank", angles.shank_angle],
  ["trunk", angles.trunk_lean],
];
const plain = (x, unit, digits) => estimate({ value: x }, unit, digits);
const inCm = (m) => (known(m) ? 100 * m : NaN);
const yes = { yes: "yes", no: "no", unclear: "unclear" };

/** A row: its name, what it shows for a rep (a list of nodes; null: nothing), help. */
const row = (name, of, help) => ({ name, of, help });

/**
 * @import { Analysis, Rep } from "api"
 * @typedef {{name: any, of: (rep: Rep) => any, help?: string}} Row a measure: its name, its cell of a rep
 */

/**
 * The measures in groups that stand together.
 * @param {Analysis} a
 * @returns {[string, Row[]][]}
 */
function groups(a) {
  const cm = a.scale?.known;
  const support = (phase) => (r) => estimate((r.support || []).find((s) => s.phase === phase)?.mean_pct, "%");
  const rise = (foot) => (r) => {
    const f = r.foot?.[foot];
    if (!f) return null;
    return [
      ...estimate(
        cm && known(f.max_cm.value) ? f.max_cm : f.max_pct_foot,
        cm && known(f.max_cm.value) ? "cm" : "%",
        cm && known(f.max_cm.value) ? 1 : 0,
      ),
      h("span", { class: "iv wrap" }, f.up ? "up" : "within noise"),
    ];
  };
  const length = (pct, inCm) => (r) => {
    if (!r.foot) return null;
    return cm && known(r.foot[inCm].value) ? estimate(r.foot[inCm], "cm", 1) : estimate(r.foot[pct], "%");
  };
  const jump = (f) => (r) => (r.jump ? f(r.jump) : null);
  const landing = (f) => (r) => (r.landing ? f(r.landing) : null);
  return [
    [
      "Range of motion",
      joints.map(([k, n]) => row(n, (r) => valued(r.joints[k].rom_deg, r.joints[k].rom_interval95_deg, "°"))),
    ],
    [
      "At the bottom",
      joints.map(([k, n]) =>
        row(n, (r) => {
          const j = r.joints[k];
          return valued(
            j.at_bottom_deg,
            known(j.sd_deg) ? [j.at_bottom_deg - half95(j.sd_deg), j.at_bottom_deg + half95(j.sd_deg)] : null,
            j.zero_known === false ? "°†" : "°",
          );
        }),
      ),
    ],
    [
      "Time",
      [
        row("Descent", (r) => plain(r.descent_s, "s", 2)),
        row("Ascent", (r) => plain(r.ascent_s, "s", 2)),
        row("Bottom at", (r) => [
          ...plain(r.bottom_s, "s", 2),
          known(r.bottom_sd_s) ? h("span", { class: "iv" }, `± ${num(half95(r.bottom_sd_s), 2)}`) : null,
        ]),
        row("Fastest knee", (r) => plain(r.joints.knee.peak_velocity_deg_s, "°/s")),
        row("Fastest hip", (r) => plain(r.joints.hip.peak_velocity_deg_s, "°/s")),
      ],
    ],
    [
      cm ? "Foot" : "Foot, % of its length",
      [
        row("Heel comes up", rise("heel"), "at most, under load"),
        row("Toe comes up", rise("toe"), "at most, under load"),
        row("Foot slides", length("slide_pct_foot", "slide_cm")),
        row(
          "Knee before the toe",
          length("knee_past_toe_pct_foot", "knee_past_toe_cm"),
          "at the bottom; minus: behind",
        ),
        row(
          "Thigh below level",
          (r) => r.foot && estimate(r.foot.thigh_at_bottom_deg, "°"),
          "at the bottom; minus: above",
        ),
        row("Hip crease below knee", (r) => r.foot && [yes[r.foot.hip_crease_below_knee] || "–"]),
      ],
    ],
    [
      "Support point, % of foot",
      [
        row("Whole rep, mean", support("whole")),
        row("Descent", support("descent")),
        row("Bottom", support("bottom")),
        row("Ascent", support("ascent")),
        row("Take-off", support("take-off")),
        row("Landing", support("landing")),
        row(
          "Outside the middle",
          (r) => {
            const s = (r.support || []).find((x) => x.phase === "whole");
            return s && known(s.outside_s)
              ? [
                  `${num(s.outside_s, 2)} s`,
                  h("span", { class: "iv" }, `heel ${num(s.behind_s, 2)} s`),
                  h("span", { class: "iv" }, `toe ${num(s.before_s, 2)} s`),
                ]
              : null;
          },
          "the middle is 25 to 75 %",
        ),
      ],
    ],
    [
      "Jump",
      [
        row(
          "Flight",
          jump((j) => valued(j.flight_s, j.flight_interval95_s, "s", 2)),
        ),
        row(
          "Height from flight",
          jump((j) => valued(inCm(j.height_from_flight_m), j.height_from_flight_interval95_m?.map(inCm), "cm")),
        ),
        row(
          "Rise after take-off",
          jump((j) => valued(inCm(j.rise_m), j.rise_interval95_m?.map(inCm), "cm")),
          "of the centre of mass",
        ),
        row(
          "Rise from standing",
          jump(
            (j) =>
              j.rise_from_stand_m &&
              valued(inCm(j.rise_from_stand_m.value), j.rise_from_stand_m.interval95?.map(inCm), "cm"),
          ),
        ),
        row(
          "Take-off speed",
          jump((j) => valued(j.takeoff_velocity_m_s, j.takeoff_velocity_interval95_m_s, "m/s", 1)),
        ),
        row(
          "Contact time",
          jump((j) => j.contact_time_s && estimate(j.contact_time_s, "s", 2)),
        ),
        row(
          "Reactive strength",
          jump((j) => valued(j.reactive_strength_index_m_s, j.reactive_strength_index_interval95_m_s, "m/s", 2)),
        ),
      ],
    ],
    [
      "Landing",
      [
        row(
          "Contact to bottom",
          landing((l) => estimate(l.contact_to_bottom_s, "s", 2)),
        ),
        ...joints.flatMap(([k, n]) =>
          k === "shank"
            ? []
            : [
                row(
                  `${n} at contact`,
                  landing((l) => estimate(l.at_contact_deg[k], "°")),
                ),
                row(
                  `${n} at the bottom`,
                  landing((l) => estimate(l.at_bottom_deg[k], "°")),
                ),
              ],
        ),
        row(
          "Fastest knee",
          landing((l) => plain(l.peak_velocity_deg_s.knee, "°/s")),
        ),
        row(
          "Until still",
          landing((l) => plain(l.settle_s, "s", 2)),
          "hip and knee, from contact",
        ),
        row(
          "Until standing",
          landing((l) => plain(l.to_stand_s, "s", 2)),
        ),
        row(
          "Steps, hops",
          landing((l) => [`${num(l.steps)}, ${num(l.hops)}`]),
        ),
        row(
          "Drift forward",
          landing((l) =>
            cm && known(l.forward_drift_cm.value)
              ? estimate(l.forward_drift_cm, "cm", 1)
              : estimate(l.forward_drift_pct_foot, "% of foot"),
          ),
        ),
      ],
    ],
  ];
}

/**
 * Fills el with a table for each group of measures.
 * @param {HTMLElement} el
 * @param {Analysis} a
 */
export function showMeasures(el, a) {
  if (!a.reps.length) {
    fill(el, h("p", {}, "No rep was found."));
    return;
  }
  const narrow = matchMedia("(max-width: 900px)").matches;
  const closed = new Set($$("details:not([open])", el).map((d) => d.dataset.group));
  const first = !el.firstChild;
  const parts = [];
  for (const [title, rows] of groups(a)) {
    const filled = rows
      .map((x) => ({ ...x, cells: a.reps.map((r) => x.of(r)) }))
      .filter((x) => x.cells.some((c) => c && c[0] !== "–" && c[0] !== null && c[0] !== undefined));
    if (!filled.length) continue;
    const head = h(
      "thead",
      {},
      h(
        "tr",
        {},
        h("th", { scope: "col" }, h("span", { class: "sr" }, "Measure")),
        a.reps.map((r) =>
          h(
            "th",
            { scope: "col", class: "n" },
            `Rep ${num(r.number)}`,
            h("br"),
            tempo(r.tempo, r.tempo_between ? "between" : r.tempo),
            r.tempo_source === "given" ? h("span", { class: "iv" }, "given by hand") : null,
            r.partial ? h("span", { class: "iv" }, whyPartial(a, r)) : null,
          ),
        ),
      ),
    );
    const body = h(
      "tbody",
      {},
      filled.map((x) =>
        h(
          "tr",
          {},
          h("th", { scope: "row" }, x.name, x.help ? h("span", { class: "iv" }, x.help) : null),
          x.cells.map((c) => h("td", { class: "n" }, c?.length ? c : "–")),
        ),
      ),
    );
    parts.push(
      h(
        "details",
        { open: first ? !narrow || parts.length < 2 : !closed.has(title), data: { group: title } },
        h("summary", {}, title),
        h(
          "div",
          { class: "scroll", tabindex: "0", role: "group", "aria-label": `${title}, with 95 % intervals` },
          h("table", { class: "sticky" }, head, body),
        ),
      ),
    );
  }
  fill(el, parts);
}

const rollSources = {
  lines: "lines in the background",
  flight: "the flight",
  given: "your correction",
  floor: "the floor",
};
const scaleSources = { height: "the athlete's height", mark: "a mark", jump: "the jump's fall", leg: "a usual leg" };

/**
 * How well the clip shows the reps, what to film otherwise, and what the reader must know.
 * @param {HTMLElement} el
 * @param {Analysis} a
 */
export function showQuality(el, a) {
  const parts = [];
  for (const [i, r] of a.reps.entries()) {
    const q = r.quality;
    const facts = [`${num(q.frames_in_turn)} frames around the bottom`];
    if (q.filled_pct >= 0.5) facts.push(`${num(q.filled_pct)} % filled in`);
    if (q.hidden_pct >= 0.5) facts.push(`a point hidden in ${num(q.hidden_pct)} % of the frames`);
    if (q.blur_px >= 1) facts.push(`blur up to ${num(q.blur_px)} px`);
    parts.push(
      h(
        "p",
        { class: "row" },
        h("strong", {}, `Rep ${num(r.number)}`),
        q.grade
          ? h(
              "span",
              { class: `grade grade-${q.grade}` },
              h("i", { "aria-hidden": "true" }),
              `${grades[q.grade] || q.grade} picture`,
            )
          : null,
        h("span", { class: "muted small" }, facts.join(", ")),
      ),
    );
    if (a.said.not_whole[i]) parts.push(h("p", { class: "note" }, a.said.not_whole[i]));
  }
  for (const line of a.said.advice) parts.push(h("p", { class: "note" }, line));
  for (const w of a.warnings) parts.push(h("p", { class: "note warn" }, w.message));
  const why = a.reps.map((r) => r.jump?.why_heights_differ).find(Boolean);
  if (why) parts.push(h("p", { class: "note" }, why.message));
  if (a.said.settled) parts.push(h("p", { class: "help" }, a.said.settled));
  const v = a.view;
  const facts = [];
  if (known(v.yaw_deg))
    facts.push([
      "Camera from side-on",
      `${num(Math.abs(v.yaw_deg))}° (± ${known(v.yaw_sd_deg) ? num(half95(v.yaw_sd_deg)) : "–"})`,
    ]);
  const rollFrom = v.roll_source ? `from ${rollSources[v.roll_source] || v.roll_source}` : "not known";
  facts.push(["Picture turned", `${num(v.roll_deg, 1)}° clockwise, ${rollFrom}`]);
  facts.push([
    "Camera",
    v.camera_known
      ? v.camera_moved
        ? `moved by up to ${num(v.camera_motion_px)} px; taken out`
        : "stood still"
      : "not known whether it moved",
  ]);
  const { frames, frame_rate_hz: rate, slow_motion_factor: slower } = a.clip;
  const slowMotion = slower > 1 ? `, slow motion ${num(slower, 1)} times` : "";
  facts.push(["Frames", `${num(frames)}, ${num(rate, rate % 1 ? 1 : 0)} a second${slowMotion}`]);
  if (a.scale?.known) {
    const { value, interval95 } = a.scale.mm_per_px;
    const size = `${num(value, 2)} mm a pixel (${num(interval95[0], 2)} to ${num(interval95[1], 2)})`;
    const from = a.scale.sources.map((s) => scaleSources[s.name] || s.name).join(", ");
    facts.push(["Scale", `${size}, from ${from}`]);
  } else facts.push(["Scale", "not known; give the athlete's height for centimetres"]);
  if (!a.series.stand_found) parts.push(h("p", { class: "note warn" }, noZero));
  fill(
    el,
    parts,
    h(
      "dl",
      { class: "facts" },
      facts.map(([k, t]) => [h("dt", {}, k), h("dd", {}, t)]),
    ),
  );
}
