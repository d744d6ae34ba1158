// What all charts share: uPlot with our look, sizes that follow the page, bands and a
// description for those who do not see it.
import uPlot from "../vendor/uplot/uPlot.esm.js";
import { fade, stage, token } from "./colours.js";
import { num } from "./format.js";

export { uPlot };

/** The colours of a chart, on the stage (dark in both themes) or on a card. */
export function inks(onStage) {
  return onStage
    ? {
        ink: stage.ink,
        quiet: stage.quiet,
        grid: fade(stage.quiet, 0.16),
        tick: stage.line,
        ground: token("stage"),
        dark: true,
      }
    : {
        ink: token("ink"),
        quiet: token("quiet"),
        grid: token("line"),
        tick: token("edge"),
        ground: token("surface"),
        dark: matchMedia("(prefers-color-scheme: dark)").matches,
      };
}

const font = "12px system-ui, sans-serif";

/** How many decimals a tick needs to be exact, two at most. */
const decimals = (v) => [0, 1].find((n) => Math.abs(Math.round(v * 10 ** n) - v * 10 ** n) < 1e-6) ?? 2;

/**
 * An axis with its label, in the reader's numbers.
 * @param {ReturnType<typeof inks>} look
 * @param {string} label
 * @param {{side?: number, size?: number, space?: number, values?: Function, splits?: Function,
 *   label_size?: number}} [options]
 */
export function axis(look, label, { side, size, space, values, splits, label_size } = {}) {
  const set = (key, v) => (v === undefined ? {} : { [key]: v }); // uPlot takes undefined for a choice
  return {
    side,
    label,
    size: size ?? (side === 3 ? 44 : 34),
    labelSize: label_size ?? 18,
    labelGap: 0,
    ...set("space", space),
    ...set("splits", splits),
    stroke: look.quiet,
    font,
    labelFont: "600 12px system-ui, sans-serif",
    gap: 4,
    grid: { stroke: look.grid, width: 1 },
    ticks: { stroke: look.tick, width: 1, size: 5 },
    values: values || ((_u, list) => list.map((v) => (v === null ? "" : num(v, decimals(v))))),
  };
}

/** Makes a chart in el that is as wide as el; returns it with a function that ends it. */
export function chart(el, options, data, { height, label }) {
  const width = () => Math.max(220, Math.floor(el.clientWidth));
  const u = new uPlot({ width: width(), height, legend: { show: false }, ...options }, data, el);
  u.ctx.canvas.setAttribute("role", "img");
  u.ctx.canvas.setAttribute("aria-label", label);
  let last = u.width;
  const watch = new ResizeObserver(() => {
    const w = width();
    if (w === last || el.clientWidth === 0) return;
    last = w;
    u.setSize({ width: w, height });
  });
  watch.observe(el);
  return {
    u,
    end() {
      watch.disconnect();
      u.destroy();
    },
  };
}

/** Draws a hatch that is named in words beside it: the tempo's own, so that bands differ without colour. */
export function hatch(c, tempo, x, y, w, h, color, px) {
  c.save();
  c.beginPath();
  c.rect(x, y, w, h);
  c.clip();
  c.strokeStyle = color;
  c.fillStyle = color;
  c.lineWidth = px;
  const gap = 9 * px;
  if (tempo === "fast") {
    c.beginPath();
    for (let k = x - h; k < x + w; k += gap) {
      c.moveTo(k, y + h);
      c.lineTo(k + h, y);
    }
    c.stroke();
  } else if (tempo === "jump") {
    c.beginPath();
    for (let k = x - h; k < x + w; k += gap * 1.3) {
      c.moveTo(k, y + h);
      c.lineTo(k + h, y);
      c.moveTo(k, y);
      c.lineTo(k + h, y + h);
    }
    c.stroke();
  } else {
    for (let i = x + gap / 2; i < x + w; i += gap)
      for (let j = y + gap / 2; j < y + h; j += gap) c.fillRect(i, j, 1.4 * px, 1.4 * px);
  }
  c.restore();
}

/** Draws a tempo's sign, as in the tables: disc slow, triangle fast, square jump. */
export function tempoSign(c, tempo, x, y, r, color) {
  c.fillStyle = color;
  c.beginPath();
  if (tempo === "fast") {
    c.moveTo(x, y - r);
    c.lineTo(x + r, y + r * 0.8);
    c.lineTo(x - r, y + r * 0.8);
    c.closePath();
  } else if (tempo === "jump") c.rect(x - r * 0.85, y - r * 0.85, r * 1.7, r * 1.7);
  else c.arc(x, y, r, 0, 2 * Math.PI);
  c.fill();
}

/** How a tempo's line looks on a card. */
export function tempoLook(tempo) {
  const dash = { slow: [], fast: [7, 4], jump: [9, 3, 2, 3] }[tempo] || [2, 3];
  return { color: token(tempo) || token("quiet"), dash };
}

/** Redraws charts when the reader changes between light and dark. */
export function onTheme(f) {
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", f);
}
