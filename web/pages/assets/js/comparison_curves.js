// The curves of a pair: the mean of each condition with its band, and from where on they part.
import { axis, chart, inks, onTheme } from "./chart.js";
import { fade } from "./colours.js";
import { lookOf, tag, word } from "./comparison_sides.js";
import { $, fill, h, svg } from "./dom.js";
import { known, list, num } from "./format.js";
import { curves as kinds } from "./motion.js";
import { named, say } from "./words.js";

/** @import { Pair } from "api" */

/** @type {Pair} */
let pair; // that is shown
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

/**
 * Shows the curves of a pair, one chart for each angle and part of the movement.
 * @param {Pair} of
 */
export function showCurves(of) {
  pair = of;
  for (const c of charts) c.end();
  charts = [];
  const look = inks(false);
  fill(
    $("#legend"),
    [pair.baseline, pair.challenge].map((t) => h("span", {}, lineSample(t), tag(t))),
    h("span", {}, say("curves.short_from")),
    h("span", {}, say("curves.beyond_from")),
  );
  const tempos = [pair.baseline, pair.challenge].map(lookOf);
  fill($("#charts"));
  for (const c of pair.curves || []) {
    const kind = kinds.find((k) => k.key === c.angle);
    const name = kind ? kind.name : c.angle.replaceAll("_", " ");
    const el = h("div", { class: "chart" });
    const part = named("phase", c.part);
    const only = !c.challenge_deg ? word(pair.baseline) : !c.baseline_deg ? word(pair.challenge) : "";
    $("#charts").append(
      h(
        "figure",
        { class: "chart-box" },
        h(
          "figcaption",
          { class: "chart-title" },
          only
            ? say("curves.of_part_only", { angle: name, part, condition: only })
            : say("curves.of_part", { angle: name, part }),
        ),
        el,
      ),
    );
    const x = Array.from({ length: 101 }, (_, i) => i);
    const empty = x.map(() => null);
    const band = (b, k) => (b ? b.map((v) => v[k]) : empty);
    const none = { stroke: "transparent", width: 0, points: { show: false } };
    const wash = (color) => fade(color, 0.2);
    const parts = [];
    if (known(c.lost_from_pct)) parts.push(say("curves.short_at", { pct: num(c.lost_from_pct) }));
    if (known(c.gained_from_pct)) parts.push(say("curves.beyond_at", { pct: num(c.gained_from_pct) }));
    const both = { angle: name, part, baseline: word(pair.baseline), challenge: word(pair.challenge) };
    charts.push(
      chart(
        el,
        {
          padding: [8, 14, 0, 0],
          cursor: { show: false },
          scales: { x: { time: false, range: () => [0, 100] } },
          axes: [
            axis(look, say("curves.part_axis", { part }), {
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
          hooks: { draw: [(u) => marks(u, c, look)] },
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
          height: 190,
          label: parts.length
            ? say("curves.told_parting", { ...both, parting: list(parts) })
            : say("curves.told_together", both),
        },
      ),
    );
  }
  if (!(pair.curves || []).length) fill($("#charts"), h("p", { class: "muted" }, say("curves.none")));
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
  if (pair) showCurves(pair);
});
