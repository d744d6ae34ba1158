// The chart of one position over an athlete's visits.
import { axis, chart, inks, tempoLook, tempoSign } from "./chart.js";
import { date, known, withUnit } from "./format.js";
import { jointNames } from "./signs.js";
import { named, say } from "./words.js";

/** @import { HistorySeries } from "api" */

/** The unit of a series, as it stands beside a number. */
export const unitOf = (/** @type {HistorySeries} */ s) => (s.unit === "degrees" ? "°" : "%");

/**
 * One position over the visits: a point with its interval for each visit, tempos side by side.
 * The band of what is too small to be told from chance is that of one tempo.
 * @param {HTMLElement} el
 * @param {Pick<HistorySeries, "position" | "tempo" | "unit" | "points">[] | any[]} of
 * @param {string[]} dates
 * @param {string} banded
 * @param {string} [label] of the axis
 */
export function historyChart(el, of, dates, banded, label) {
  const look = inks(false);
  const days = dates.map((d) => Date.parse(`${d}T00:00:00Z`) / 864e5);
  const span = Math.max(14, days.at(-1) - days[0]);
  const lo = days[0] - span * 0.12;
  const hi = days.at(-1) + span * 0.12;
  const tempos = of.map((s) => s.tempo);
  const xs = days;
  const data = [xs, ...of.map((s) => dates.map((d) => s.points.find((p) => p.date === d)?.value.value ?? null))];
  const ends = of.flatMap((s) => s.points.flatMap((p) => [...p.value.interval95, p.value.value])).filter(known);
  const yLo = Math.min(...ends);
  const yHi = Math.max(...ends);
  const pad = Math.max(3, 0.12 * (yHi - yLo));
  const shift = (k) => (k - (of.length - 1) / 2) * 7 * devicePixelRatio;
  const drawn = (u) => {
    const c = u.ctx;
    const px = devicePixelRatio;
    of.forEach((s, k) => {
      const { color, dash } = tempoLook(s.tempo);
      const first = s.points[0];
      const last = s.points.at(-1);
      const sdc = last?.since_first?.smallest_detectable;
      if (s.tempo === banded && first && known(sdc)) {
        const y0 = u.valToPos(first.value.value + sdc, "y", true);
        const y1 = u.valToPos(first.value.value - sdc, "y", true);
        const x0 = u.valToPos(Date.parse(first.date) / 864e5, "x", true);
        c.save();
        c.beginPath();
        c.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
        c.clip();
        c.globalAlpha = 0.13;
        c.fillStyle = color;
        c.fillRect(x0, y0, u.bbox.left + u.bbox.width - x0, y1 - y0);
        c.globalAlpha = 0.5;
        c.strokeStyle = color;
        c.lineWidth = px;
        c.setLineDash([2 * px, 3 * px]);
        for (const y of [y0, y1]) {
          c.beginPath();
          c.moveTo(x0, y);
          c.lineTo(u.bbox.left + u.bbox.width, y);
          c.stroke();
        }
        c.restore();
      }
      c.strokeStyle = color;
      c.lineWidth = 2 * px;
      c.setLineDash(dash.map((d) => d * px));
      c.beginPath();
      s.points.forEach((p, i) => {
        const x = u.valToPos(Date.parse(p.date) / 864e5, "x", true) + shift(k);
        const y = u.valToPos(p.value.value, "y", true);
        if (i) c.lineTo(x, y);
        else c.moveTo(x, y);
      });
      c.stroke();
      c.setLineDash([]);
      for (const p of s.points) {
        const x = u.valToPos(Date.parse(p.date) / 864e5, "x", true) + shift(k);
        const y = u.valToPos(p.value.value, "y", true);
        const [a, b] = p.value.interval95;
        if (known(a) && known(b)) {
          const ya = u.valToPos(a, "y", true);
          const yb = u.valToPos(b, "y", true);
          const w = 4 * px;
          c.lineWidth = 1.4 * px;
          c.beginPath();
          c.moveTo(x, ya);
          c.lineTo(x, yb);
          c.moveTo(x - w, ya);
          c.lineTo(x + w, ya);
          c.moveTo(x - w, yb);
          c.lineTo(x + w, yb);
          c.stroke();
        }
        tempoSign(c, s.tempo, x, y, 5.4 * px, look.ground);
        tempoSign(c, s.tempo, x, y, 4.2 * px, color);
      }
    });
  };
  const values = (s) => s.points.map((p) => `${date(p.date)} ${withUnit(p.value.value, unitOf(s))}`).join(", ");
  const words = of.map((s) => `${named("tempo", s.tempo)}: ${values(s)}`).join(". ");
  return chart(
    el,
    {
      padding: [8, 38, 0, 0],
      cursor: { show: false },
      scales: { x: { time: false, range: () => [lo, hi] }, y: { range: () => [yLo - pad, yHi + pad] } },
      axes: [
        axis(look, say("history.visit"), {
          side: 2,
          size: 26,
          label_size: 16,
          splits: (u) => thin(days, u),
          values: (_u, l) => l.map((d) => date(new Date(d * 864e5).toISOString().slice(0, 10))),
        }),
        axis(look, label || (unitOf(of[0]) === "°" ? say("curves.angle_axis") : named("unit", of[0].unit)), {
          side: 3,
          size: 40,
        }),
      ],
      series: [{}, ...tempos.map(() => ({ stroke: "transparent", width: 0, points: { show: false } }))],
      hooks: { draw: [drawn] },
    },
    data,
    { height: 210, label: say("history.told", { position: jointNames[of[0].position], values: words }) },
  );
}

/** Of days that lie too close to be written side by side, some. */
function thin(days, u) {
  const out = [];
  let last = -Infinity;
  for (const d of days) {
    const x = u.valToPos(d, "x");
    if (x - last < 92) continue;
    out.push(d);
    last = x;
  }
  return out;
}
