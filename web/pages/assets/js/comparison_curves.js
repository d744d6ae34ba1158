// The curves of a pair: the mean of each condition with its band, and from where on they part.
import { axis, chart, inks, onTheme } from "./chart.js";
import { fade } from "./colours.js";
import { lookOf, tag, word } from "./comparison_sides.js";
import { $, fill, focused, h, svg } from "./dom.js";
import { deg, known, list, num, range, upper } from "./format.js";
import { angles, named, say } from "./words.js";

/** @import { Comparison, Pair } from "api" */

/** @type {Comparison} */
let doc;
/** @type {Pair} */
let pair; // that is shown
let part; // of the movement
let charts = [];

function lineSample(t) {
  const look = lookOf(t);
  const s = svg("svg", { width: 44, height: 12, viewBox: "0 0 44 12", "aria-hidden": "true" });
  s.append(
    svg("line", {
      x1: 0,
      y1: 6,
      x2: 44,
      y2: 6,
      stroke: look.color,
      "stroke-width": 2.6,
      "stroke-dasharray": look.dash.join(" ") || "none",
    }),
  );
  return s;
}

/** The parts of the movement of which the comparison has curves, in order. */
const partsOf = (doc) => [...new Set(doc.pairs.flatMap((p) => (p.curves || []).map((c) => c.part)))];

/** The lowest and the highest angle of a joint anywhere in the comparison, so that all its charts have one scale. */
function scaleOf(doc, angle) {
  const all = doc.pairs
    .flatMap((p) => p.curves || [])
    .filter((c) => c.angle === angle)
    .flatMap((c) => [...(c.baseline_band_deg || []), ...(c.challenge_band_deg || [])])
    .flat()
    .filter(known);
  if (!all.length) return [0, 10];
  return [10 * Math.floor(Math.min(...all) / 10), 10 * Math.ceil(Math.max(...all) / 10)];
}

/**
 * Shows the curves of a pair: a chart for each joint, of one part of the movement.
 * @param {Comparison} of
 * @param {Pair} ofPair
 */
export function showCurves(of, ofPair) {
  doc = of;
  pair = ofPair;
  for (const c of charts) c.end();
  charts = [];
  const parts = partsOf(doc);
  if (!parts.includes(part)) part = parts[0];
  const kept = focused()?.dataset?.part;
  fill($("#parts"), parts.map(partTab));
  if (kept) $(`[data-part="${kept}"]`)?.focus();
  fill(
    $("#legend"),
    [pair.baseline, pair.challenge].map((t) => h("span", {}, lineSample(t), tag(t))),
    h("span", {}, say("curves.short_from")),
    h("span", {}, say("curves.beyond_from")),
  );
  fill($("#charts"));
  for (const angle of ["ankle_dorsiflexion", "knee_flexion", "hip_flexion", "shoulder_flexion", "elbow_flexion"]) {
    const c = (pair.curves || []).find((c) => c.angle === angle && c.part === part);
    if (c) showCurve(c);
  }
  if (!charts.length) fill($("#charts"), h("p", { class: "muted" }, say("curves.none")));
  $("#legend").hidden = $("#curves-help").hidden = !charts.length;
}

const partTab = (p) =>
  h(
    "button",
    {
      type: "button",
      "aria-pressed": String(p === part),
      data: { part: p },
      on: {
        click: () => {
          part = p;
          showCurves(doc, pair);
        },
      },
    },
    upper(named("phase", p)),
  );

/** What both curves say at a per cent of the part: "40 %: slow 62° (58 to 66), fast 55° (51 to 59)". */
function valuesAt(c, at) {
  const of = (key, values, band) => {
    if (!known(values?.[at])) return "";
    const [lo, hi] = band?.[at] || [];
    const told = { of: word(key), deg: deg(values[at]), ends: range(lo, hi) };
    return told.ends ? say("curves.value", told) : say("curves.value_alone", told);
  };
  const values = [
    of(pair.baseline, c.baseline_deg, c.baseline_band_deg),
    of(pair.challenge, c.challenge_deg, c.challenge_band_deg),
  ];
  return say("curves.values", { pct: num(at), values: values.filter(Boolean).join(", ") });
}

function showCurve(c) {
  const look = inks(false);
  const tempos = [pair.baseline, pair.challenge].map(lookOf);
  const name = angles[c.angle] || c.angle.replaceAll("_", " ");
  const called = named("phase", c.part);
  const only = !c.challenge_deg ? word(pair.baseline) : !c.baseline_deg ? word(pair.challenge) : "";
  const title = only
    ? say("curves.of_part_only", { angle: name, part: called, condition: only })
    : say("curves.of_part", { angle: name, part: called });
  const at = (() => {
    const from = [c.lost_from_pct, c.gained_from_pct].find(known);
    return known(from) ? from : 50;
  })();
  const readout = h("p", { class: "chart-values", data: { testid: `values-${c.angle}` } });
  const el = h("div", {
    class: "chart",
    role: "slider",
    tabindex: 0,
    "aria-label": title,
    "aria-valuemin": 0,
    "aria-valuemax": 100,
    data: { testid: `curve-${c.angle}` },
  });
  $("#charts").append(
    h("figure", { class: "chart-box" }, h("figcaption", { class: "chart-title" }, title), el, readout),
  );
  const x = Array.from({ length: 101 }, (_, i) => i);
  const empty = x.map(() => null);
  const band = (b, k) => (b ? b.map((v) => v[k]) : empty);
  const none = { stroke: "transparent", width: 0, points: { show: false } };
  const wash = (color) => fade(color, 0.2);
  const parts = [];
  if (known(c.lost_from_pct)) parts.push(say("curves.short_at", { pct: num(c.lost_from_pct) }));
  if (known(c.gained_from_pct)) parts.push(say("curves.beyond_at", { pct: num(c.gained_from_pct) }));
  const both = { angle: name, part: called, baseline: word(pair.baseline), challenge: word(pair.challenge) };
  const scale = scaleOf(doc, c.angle);
  const made = chart(
    el,
    {
      padding: [8, 14, 0, 0],
      cursor: { y: false, drag: { x: false, y: false }, points: { show: false } },
      scales: { x: { time: false, range: () => [0, 100] }, y: { range: () => scale } },
      axes: [
        axis(look, say("curves.part_axis", { part: called }), {
          side: 2,
          size: 26,
          label_size: 16,
          splits: () => [0, 25, 50, 75, 100],
        }),
        axis(look, say("curves.angle_axis"), { side: 3, size: 40 }),
      ],
      series: [
        {},
        { ...none },
        { ...none },
        { ...none },
        { ...none },
        { stroke: tempos[0].color, dash: tempos[0].dash, width: 2.2, points: { show: false } },
        { stroke: tempos[1].color, dash: tempos[1].dash, width: 2.2, points: { show: false } },
      ],
      bands: [
        { series: [2, 1], fill: wash(tempos[0].color) },
        { series: [4, 3], fill: wash(tempos[1].color) },
      ],
      hooks: { draw: [(u) => marks(u, c, look)], setCursor: [(u) => known(u.cursor.idx) && tell(u.cursor.idx)] },
    },
    [
      x,
      band(c.baseline_band_deg, 0),
      band(c.baseline_band_deg, 1),
      band(c.challenge_band_deg, 0),
      band(c.challenge_band_deg, 1),
      c.baseline_deg || empty,
      c.challenge_deg || empty,
    ],
    {
      height: 200,
      label: parts.length
        ? say("curves.told_parting", { ...both, parting: list(parts) })
        : say("curves.told_together", both),
    },
  );
  let pct = at;
  function tell(to) {
    pct = to;
    const text = valuesAt(c, pct);
    readout.textContent = text;
    el.setAttribute("aria-valuenow", String(pct));
    el.setAttribute("aria-valuetext", text);
  }
  tell(at);
  el.addEventListener("keydown", (e) => {
    const by = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -10, PageUp: 10 }[e.key];
    const to = e.key === "Home" ? 0 : e.key === "End" ? 100 : by ? pct + by * (e.shiftKey ? 10 : 1) : NaN;
    if (!known(to)) return;
    e.preventDefault();
    e.stopPropagation(); // the pictures take the same keys
    const next = Math.min(100, Math.max(0, to));
    made.u.setCursor({ left: made.u.valToPos(next, "x"), top: 1 }, false);
    tell(next);
  });
  charts.push(made);
}

/** Marks where the challenge parts from the baseline. */
function marks(u, c, look) {
  const px = devicePixelRatio;
  const ctx = u.ctx;
  for (const [at, down] of [
    [c.lost_from_pct, true],
    [c.gained_from_pct, false],
  ]) {
    if (!known(at)) continue;
    const x = u.valToPos(at, "x", true);
    const { top, height } = u.bbox;
    const y = top + height;
    const s = 5 * px;
    ctx.strokeStyle = look.quiet;
    ctx.setLineDash([3 * px, 3 * px]);
    ctx.lineWidth = px;
    ctx.beginPath();
    ctx.moveTo(x, top);
    ctx.lineTo(x, y);
    ctx.stroke();
    ctx.setLineDash([]);
    ctx.fillStyle = look.ink;
    ctx.beginPath();
    if (down) {
      ctx.moveTo(x - s, y - 2.2 * s);
      ctx.lineTo(x + s, y - 2.2 * s);
      ctx.lineTo(x, y - 0.4 * s);
    } else {
      ctx.moveTo(x - s, y - 0.4 * s);
      ctx.lineTo(x + s, y - 0.4 * s);
      ctx.lineTo(x, y - 2.2 * s);
    }
    ctx.fill();
  }
}
onTheme(() => {
  if (pair) showCurves(doc, pair);
});
