// The tables of measures: a column a rep, a row a measure, the 95 % interval below each value.
import { $$, fill, h } from "./dom.js";
import { half95, known, noZero, num, range, upper } from "./format.js";
import { frontTable } from "./front.js";
import { estimate, repTempo, tempo, valued, whyPartial } from "./signs.js";
import { angles, named, say } from "./words.js";

const joints = [
  ["ankle", angles.ankle_dorsiflexion],
  ["knee", angles.knee_flexion],
  ["hip", angles.hip_flexion],
  ["shank", angles.shank_angle],
  ["trunk", angles.trunk_lean],
  ["shoulder", angles.shoulder_flexion],
  ["elbow", angles.elbow_flexion],
];
const plain = (x, unit, digits) => estimate({ value: x }, unit, digits);
const inCm = (m) => (known(m) ? 100 * m : NaN);

/** A row: its name, what it shows for a rep (a list of nodes; null: nothing), help, and of the means of a tempo. */
const row = (name, of, help, mean) => ({ name, of, help, mean });

/**
 * @import { Analysis, Rep } from "api"
 * @typedef {{name: any, of: (rep: Rep) => any, help?: string, mean?: (means: any) => any}} Row a measure: its name, its
 *   cell of a rep, and that of the means of a tempo
 */

/**
 * The measures in groups that stand together.
 * @param {Analysis} a
 * @returns {[string, Row[]][]}
 */
function groups(a) {
  const cm = a.scale?.known;
  /** @type {string[]} */
  const counts = a.movement?.joints || [];
  // The arm's where they count, and what counts first.
  const measured = joints
    .filter(([k]) => a.reps.some((r) => r.joints[k]))
    .toSorted(([x], [y]) => Number(counts.includes(y)) - Number(counts.includes(x)));
  /** @type {string[]} */
  const positions = a.movement?.positions || [];
  // Those that bend on the way to the turn: an elbow that gets straight there has no speed of its own in the documents.
  const quick = ["knee", "hip", "shoulder", "elbow"].filter(
    (k) =>
      (!counts.length || counts.includes(k)) &&
      !(k === "elbow" && positions.includes("elbow")) &&
      !(k === "shoulder" && positions.includes("arm_down")),
  );
  const fastest = (of) => quick.map((k) => row(say("measure.fastest", { joint: named("point", k) }), (r) => of(r, k)));
  const phase = (name) => upper(named("phase", name));
  const bends = !a.movement?.turn; // the turn is a bottom: knee and thigh have come down
  const support = (phase) => (r) => {
    const e = (r.support || []).find((s) => s.phase === phase)?.mean_pct;
    return e && known(e.value)
      ? valued(e.value, e.interval95 && [Math.max(0, e.interval95[0]), Math.min(100, e.interval95[1])], "%")
      : ["–"];
  };
  const rise = (foot) => (r) => {
    const f = r.foot?.[foot];
    if (!f) return null;
    return [
      ...estimate(
        cm && known(f.max_cm.value) ? f.max_cm : f.max_pct_foot,
        cm && known(f.max_cm.value) ? "cm" : "%",
        cm && known(f.max_cm.value) ? 1 : 0,
      ),
      h("span", { class: "iv wrap" }, f.up ? say("measure.up") : say("measure.noise")),
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
      say("measure.rom"),
      measured.map(([k, n]) =>
        row(
          n,
          (r) => valued(r.joints[k]?.rom_deg, r.joints[k]?.rom_interval95_deg, "°"),
          undefined,
          (m) => estimate(m.rom_deg[k], "°"),
        ),
      ),
    ],
    [
      say("measure.at_bottom"),
      measured.map(([k, n]) =>
        row(
          n,
          (r) => {
            const j = r.joints[k];
            if (!j) return ["–"]; // hidden in this rep
            return valued(
              j.at_bottom_deg,
              known(j.sd_deg) ? [j.at_bottom_deg - half95(j.sd_deg), j.at_bottom_deg + half95(j.sd_deg)] : null,
              j.zero_known === false ? "°†" : "°",
            );
          },
          undefined,
          (m) => estimate(m.at_bottom_deg[k], m.zero_known ? "°" : "°†"),
        ),
      ),
    ],
    [
      say("measure.time"),
      [
        row(phase("descent"), (r) => plain(r.descent_s, "s", 2)),
        row(phase("ascent"), (r) => plain(r.ascent_s, "s", 2)),
        row(say("measure.bottom_at"), (r) => [
          ...plain(r.bottom_s, "s", 2),
          known(r.bottom_sd_s) ? h("span", { class: "iv" }, `± ${num(half95(r.bottom_sd_s), 2)}`) : null,
        ]),
        ...fastest((r, k) => plain(r.joints[k]?.peak_velocity_deg_s, "°/s")),
      ],
    ],
    [
      cm ? say("measure.foot") : say("measure.foot_pct"),
      [
        row(say("measure.heel"), rise("heel"), say("measure.under_load")),
        row(say("measure.toe"), rise("toe"), say("measure.under_load")),
        row(say("measure.slides"), length("slide_pct_foot", "slide_cm")),
        ...(bends
          ? [
              row(
                say("measure.knee_toe"),
                length("knee_past_toe_pct_foot", "knee_past_toe_cm"),
                say("measure.minus_behind"),
              ),
              row(
                say("measure.thigh"),
                (r) => r.foot && estimate(r.foot.thigh_at_bottom_deg, "°"),
                say("measure.minus_above"),
              ),
              row(
                say("measure.crease"),
                (r) => r.foot && [r.foot.hip_crease_below_knee ? named("crease", r.foot.hip_crease_below_knee) : "–"],
              ),
            ]
          : []),
      ],
    ],
    [
      say("measure.support"),
      [
        row(say("measure.whole"), support("whole")),
        row(phase("descent"), support("descent")),
        row(say("measure.bottom"), support("bottom")),
        row(phase("ascent"), support("ascent")),
        row(say("measure.takeoff"), support("take-off")),
        row(say("measure.landing"), support("landing")),
        row(
          say("measure.outside"),
          (r) => {
            const s = (r.support || []).find((x) => x.phase === "whole");
            return s && known(s.mean_pct?.value) && known(s.outside_s)
              ? [
                  `${num(s.outside_s, 2)} s`,
                  h("span", { class: "iv" }, say("measure.heel_for", { time: num(s.behind_s, 2) })),
                  h("span", { class: "iv" }, say("measure.toe_for", { time: num(s.before_s, 2) })),
                ]
              : null;
          },
          say("measure.middle"),
        ),
      ],
    ],
    [
      say("measure.jump"),
      [
        row(
          say("measure.flight"),
          jump((j) => valued(j.flight_s, j.flight_interval95_s, "s", 2)),
        ),
        row(
          say("measure.height"),
          jump((j) => valued(inCm(j.height_from_flight_m), j.height_from_flight_interval95_m?.map(inCm), "cm")),
        ),
        row(
          say("measure.rise"),
          jump((j) => valued(inCm(j.rise_m), j.rise_interval95_m?.map(inCm), "cm")),
          say("measure.of_mass"),
        ),
        row(
          say("measure.rise_standing"),
          jump(
            (j) =>
              j.rise_from_stand_m &&
              valued(inCm(j.rise_from_stand_m.value), j.rise_from_stand_m.interval95?.map(inCm), "cm"),
          ),
        ),
        row(
          say("measure.speed"),
          jump((j) => valued(j.takeoff_velocity_m_s, j.takeoff_velocity_interval95_m_s, "m/s", 1)),
        ),
        row(
          say("measure.contact_time"),
          jump((j) => j.contact_time_s && estimate(j.contact_time_s, "s", 2)),
        ),
        row(
          say("measure.strength"),
          jump((j) => valued(j.reactive_strength_index_m_s, j.reactive_strength_index_interval95_m_s, "m/s", 2)),
        ),
      ],
    ],
    [
      say("measure.landing"),
      [
        row(
          say("measure.contact_bottom"),
          landing((l) => estimate(l.contact_to_bottom_s, "s", 2)),
        ),
        ...joints.flatMap(([k, n]) =>
          k === "shank"
            ? []
            : [
                row(
                  say("measure.at_contact", { angle: n }),
                  landing((l) => estimate(l.at_contact_deg[k], "°")),
                ),
                row(
                  say("measure.joint_at_bottom", { angle: n }),
                  landing((l) => estimate(l.at_bottom_deg[k], "°")),
                ),
              ],
        ),
        row(
          say("measure.fastest", { joint: named("point", "knee") }),
          landing((l) => plain(l.peak_velocity_deg_s.knee, "°/s")),
        ),
        row(
          say("measure.until_still"),
          landing((l) => plain(l.settle_s, "s", 2)),
          say("measure.from_contact"),
        ),
        row(
          say("measure.until_standing"),
          landing((l) => plain(l.to_stand_s, "s", 2)),
        ),
        row(
          say("measure.steps_hops"),
          landing((l) => [`${num(l.steps)}, ${num(l.hops)}`]),
        ),
        row(
          say("measure.drift"),
          landing((l) =>
            cm && known(l.forward_drift_cm.value)
              ? estimate(l.forward_drift_cm, "cm", 1)
              : estimate(l.forward_drift_pct_foot, say("measure.pct_foot")),
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
  const table = a.said.front || a.said.plain;
  if (table) return fill(el, h("div", { class: "across" }, h("h3", {}, table.title), frontTable(table)));
  if (!a.reps.length) return fill(el);
  const open = new Set($$("details[open]", el).map((d) => d.dataset.group));
  const parts = [];
  for (const [title, rows] of groups(a)) {
    const filled = rows
      .map((x) => ({ ...x, cells: a.reps.map((r) => x.of(r)) }))
      .filter((x) => x.cells.some((c) => c && c[0] !== "–" && c[0] !== null && c[0] !== undefined));
    if (!filled.length) continue;
    const means = filled.some((x) => x.mean) ? a.said.means : [];
    const head = h(
      "thead",
      {},
      h(
        "tr",
        {},
        h("th", { scope: "col" }, h("span", { class: "sr" }, say("measure.measure"))),
        means.map((m) =>
          h(
            "th",
            { scope: "col", class: "n mean" },
            say("measure.mean"),
            h("br"),
            tempo(m.tempo, a.reps.some((r) => r.drop) ? named("tempo", "drop") : repTempo(m)),
          ),
        ),
        a.reps.map((r) =>
          h(
            "th",
            { scope: "col", class: "n" },
            say("rep.title", { rep: num(r.number) }),
            h("br"),
            tempo(r.tempo, repTempo(r)),
            r.tempo_source === "given" ? h("span", { class: "iv" }, say("measure.by_hand")) : null,
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
          means.map((m) => h("td", { class: "n mean" }, x.mean ? x.mean(m) : "–")),
          x.cells.map((c) => h("td", { class: "n" }, c?.length ? c : "–")),
        ),
      ),
    );
    parts.push(
      h(
        "details",
        { open: open.has(title), data: { group: title } },
        h("summary", {}, title),
        h(
          "div",
          { class: "scroll", tabindex: "0", role: "group", "aria-label": say("measure.table", { group: title }) },
          h("table", { class: "sticky" }, head, body),
        ),
      ),
    );
  }
  fill(el, parts);
}

/**
 * The clip in a sentence for each tempo, and beside it what the reader must know.
 * @param {HTMLElement} el
 * @param {Analysis} a
 */
export function showAnswer(el, a) {
  const { answers, not_whole, advice, without, within } = a.said;
  const notes = [
    ...a.warnings
      .filter((w) => !without.includes(w.message)) // said already
      .map((w) => h("p", { class: "note warn" }, w.message)),
    a.series.stand_found || a.view.front ? null : h("p", { class: "note warn" }, noZero),
    ...[...(without ? [] : not_whole.filter(Boolean)), ...advice].map((line) => h("p", { class: "note" }, line)),
  ].filter(Boolean);
  fill(
    el,
    h(
      "div",
      {},
      without
        ? h("p", { class: "answer wrong", data: { testid: "without" } }, without)
        : answers.map((s) => h("p", { class: "answer" }, s)),
      within.map((s) => h("p", { data: { testid: "within" } }, s)),
    ),
    notes.length ? h("div", { class: "answer-notes" }, notes) : null,
  );
}

/**
 * How well the clip shows the reps.
 * @param {HTMLElement} el
 * @param {Analysis} a
 */
export function showQuality(el, a) {
  const parts = [];
  for (const r of a.reps) {
    const q = r.quality;
    const facts = [say("quality.frames", { n: q.frames_in_turn })];
    if (q.filled_pct >= 0.5) facts.push(say("quality.filled", { pct: num(q.filled_pct) }));
    if (q.hidden_pct >= 0.5) facts.push(say("quality.hidden", { pct: num(q.hidden_pct) }));
    if (q.blur_px >= 1) facts.push(say("quality.blur", { size: num(q.blur_px) }));
    parts.push(
      h(
        "p",
        { class: "row" },
        h("strong", {}, say("rep.title", { rep: num(r.number) })),
        q.grade
          ? h(
              "span",
              { class: `grade grade-${q.grade}` },
              h("i", { "aria-hidden": "true" }),
              say("quality.grade", { grade: named("grade", q.grade) }),
            )
          : null,
        h("span", { class: "muted small" }, facts.join(", ")),
      ),
    );
  }
  const why = a.reps.map((r) => r.jump?.why_heights_differ).find(Boolean);
  if (why) parts.push(h("p", { class: "note" }, why.message));
  if (a.said.settled) parts.push(h("p", { class: "help" }, a.said.settled));
  const v = a.view;
  const facts = [];
  if (known(v.yaw_deg) && !v.front)
    facts.push([
      say("quality.side_on"),
      `${num(Math.abs(v.yaw_deg))}° (± ${known(v.yaw_sd_deg) ? num(half95(v.yaw_sd_deg)) : "–"})`,
    ]);
  const turned = num(v.roll_deg, 1);
  facts.push([
    say("quality.turned"),
    v.roll_source
      ? say("quality.turned_from", { deg: turned, source: named("roll_source", v.roll_source) })
      : say("quality.turned_unknown", { deg: turned }),
  ]);
  facts.push([
    say("quality.camera"),
    v.camera_known
      ? v.camera_moved
        ? say("quality.camera_moved", { size: num(v.camera_motion_px) })
        : say("quality.camera_still")
      : say("quality.camera_unknown"),
  ]);
  const { frames, frame_rate_hz: rate, slow_motion_factor: slower } = a.clip;
  const filmed = { frames: num(frames), rate: num(rate, rate % 1 ? 1 : 0) };
  facts.push([
    say("quality.clip_frames"),
    slower > 1 ? say("quality.rate_slow_motion", { ...filmed, times: num(slower, 1) }) : say("quality.rate", filmed),
  ]);
  if (a.scale?.known) {
    const { value, interval95 } = a.scale.mm_per_px;
    const sources = a.scale.sources.map((s) => named("scale_source", s.name)).join(", ");
    const ends = range(interval95[0], interval95[1], 2);
    facts.push([say("quality.scale"), say("quality.scale_from", { size: num(value, 2), ends, sources })]);
  } else facts.push([say("quality.scale"), say("quality.scale_unknown")]);
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
