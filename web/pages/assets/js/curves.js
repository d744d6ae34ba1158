// The curves under the video: angles and support point over time, with the reps as
// bands, a playhead that follows the picture, and handles for correcting a rep.
import { axis, chart, hatch, inks, tempoSign } from "./chart.js";
import { drawn, fade, stage, stageTempos } from "./colours.js";
import { fill, h, svg } from "./dom.js";
import { deg, half95, num } from "./format.js";
import { onFoot } from "./motion.js";
import { repTempo, whyPartial } from "./signs.js";
import { say } from "./words.js";

const look = inks(true);

/** @import { Motion } from "./motion.js" */

/** A sample of a curve's line with its marker, for the keys. */
function sample(curve) {
  const s = svg("svg", { width: 34, height: 14, viewBox: "0 0 34 14", "aria-hidden": "true" });
  s.append(
    svg("line", {
      x1: 0,
      y1: 7,
      x2: 34,
      y2: 7,
      stroke: curve.color,
      "stroke-width": 2.4,
      "stroke-dasharray": curve.dash.join(" ") || "none",
    }),
  );
  if (curve.sign === "triangle") s.append(svg("path", { d: "M17 1.5 22 11H12z", fill: curve.color }));
  if (curve.sign === "tip") s.append(svg("path", { d: "M17 12.5 22 3H12z", fill: curve.color }));
  if (curve.sign === "diamond") s.append(svg("path", { d: "M17 2 22 7 17 12 12 7z", fill: curve.color }));
  if (curve.sign === "disc") s.append(svg("circle", { cx: 17, cy: 7, r: 4.4, fill: curve.color }));
  if (curve.sign === "square") s.append(svg("rect", { x: 13, y: 3, width: 8, height: 8, fill: curve.color }));
  return s;
}

const clean = (list) => list.map((v) => (v === null || v === undefined ? null : v));

export class Curves {
  /** seek is called with a moment of the movement in seconds. */
  constructor({ angles, support, keys, seek, changed }) {
    this.anglesEl = angles;
    this.supportEl = support;
    this.keysEl = keys;
    this.seek = seek;
    this.changed = changed;
    /** @type {Motion | undefined} */
    this.motion = undefined;
    this.timeS = undefined;
    /** @type {HTMLElement[]} */
    this.handles = [];
    /** @type {HTMLElement[]} */
    this.heads = [];
    this.charts = [];
    /** @type {Set<string>} curves that the reader put out of sight */
    this.hidden = new Set();
    this.values = {};
    this.editing = null;
  }

  /** A box for each curve, with its value. */
  makeKeys() {
    this.values = {};
    fill(
      this.keysEl,
      this.motion.curves.map((c, i) => {
        const box = h("input", {
          type: "checkbox",
          checked: !this.hidden.has(c.key),
          value: c.key,
          on: {
            change: () => {
              if (box.checked) this.hidden.delete(c.key);
              else this.hidden.add(c.key);
              for (const k of this.seriesOf(i)) this.charts[0]?.u.setSeries(k, { show: box.checked });
            },
          },
        });
        this.values[c.key] = h("span", { class: "mono" });
        return h("label", {}, box, sample(c), h("span", {}, c.short), this.values[c.key]);
      }),
    );
  }

  /** The chart's series of a curve: its line, and in a clip without reps the ends of its interval. */
  seriesOf(i) {
    const n = this.motion.curves.length;
    return this.motion.a.plain ? [i + 1, n + 2 * i + 1, n + 2 * i + 2] : [i + 1];
  }

  /** The samples of a curve; a document leaves out an angle that is known nowhere. */
  samples(key) {
    const { angles_deg, time_s } = this.motion.series;
    return clean(angles_deg[key] ?? Array(time_s.length).fill(null));
  }

  /** The ends of the curves' 95 % intervals, two a curve, in a clip without reps. */
  ends() {
    const { a, curves, series } = this.motion;
    if (!a.plain) return [];
    const end = (key, way) =>
      this.samples(key).map((v, i) => (v === null ? null : v + way * half95(series.sd_deg[key][i])));
    return curves.flatMap((c) => [end(c.key, -1), end(c.key, 1)]);
  }

  /** Draws a motion anew. */
  show(motion) {
    const before = this.motion?.curves.map((c) => c.key).join();
    this.motion = motion;
    const { curves } = motion;
    if (before !== curves.map((c) => c.key).join()) this.makeKeys();
    // The charts go, and take the focus along.
    const focused = this.handles.find((el) => el === document.activeElement)?.dataset.testid;
    for (const c of this.charts) c.end();
    this.charts = [];
    const s = motion.series;
    const x = s.time_s;
    const size = 58;
    const bands = (u) => this.bands(u);
    const lines = (u) => this.moments(u);
    const shared = {
      padding: [10, 6, 0, 0],
      scales: { x: { time: false, range: () => [x[0], x.at(-1)] } },
      cursor: {
        drag: { x: false, y: false, setScale: false },
        points: { show: false },
        y: false,
        x: false,
        sync: null,
      },
    };
    const reps = motion.reps.map((r) =>
      say("curves.rep_times", {
        rep: r.number,
        tempo: repTempo(r),
        from: num(r.start_s, 1),
        to: num(r.end_s, 1),
      }),
    );
    const ends = this.ends();
    const describe = say("curves.told", { time: num(x.at(-1), 1), reps: reps.join(". ") });
    this.charts.push(
      chart(
        this.anglesEl,
        {
          ...shared,
          axes: [
            motion.hasSupport // the chart beneath has the times
              ? axis(look, "", { side: 2, size: 24, label_size: 0, values: (_u, l) => l.map(() => "") })
              : axis(look, say("curves.time_axis"), { side: 2, size: 26, label_size: 16 }),
            axis(look, say("curves.angle_axis"), { side: 3, size: size - 18 }),
          ],
          series: [
            {},
            ...curves.map((c) => ({
              label: c.name,
              stroke: c.color,
              width: 2,
              dash: c.dash,
              show: !this.hidden.has(c.key),
              points: { show: false },
              spanGaps: false,
            })),
            ...ends.map((_, k) => ({
              stroke: "transparent",
              width: 0,
              show: !this.hidden.has(curves[k >> 1].key),
              points: { show: false },
            })),
          ],
          bands: ends.length
            ? curves.map((c, i) => ({ series: this.seriesOf(i).slice(1).reverse(), fill: fade(c.color, 0.16) }))
            : [],
          hooks: { drawClear: [bands], draw: [lines, (u) => this.signs(u)] },
        },
        [x, ...curves.map((c) => this.samples(c.key)), ...ends],
        { height: 290, label: describe },
      ),
    );
    this.supportEl.hidden = !motion.hasSupport;
    if (motion.hasSupport) this.showSupport(x, shared, size, bands);
    this.heads = this.charts.map(({ u }) => {
      const head = h("div", { class: "playhead" });
      u.over.append(head);
      this.listen(u);
      return head;
    });
    for (const { u } of this.charts)
      u.hooks.setSize = [...(u.hooks.setSize || []), () => queueMicrotask(() => this.place())];
    this.edit(this.editing, focused);
    this.at(this.timeS ?? 0);
  }

  /** The chart of where the weight acts. */
  showSupport(x, shared, size, bands) {
    const { motion } = this;
    const s = motion.series;
    const sup = clean(s.support_pct);
    const sd = s.support_sd_pct || [];
    const edge = (k) =>
      sup.map((v, i) => (v === null || sd[i] === null || sd[i] === undefined ? null : onFoot(v, sd[i])[k]));
    const [lo, hi] = motion.a.support_band_pct || [25, 75];
    this.charts.push(
      chart(
        this.supportEl,
        {
          ...shared,
          scales: { ...shared.scales, y: { range: () => [-5, 105] } },
          axes: [
            axis(look, say("curves.time_axis"), { side: 2, size: 26, label_size: 16 }),
            axis(look, say("curves.foot_axis"), { side: 3, size: size - 18, splits: () => [0, 25, 50, 75, 100] }),
          ],
          series: [
            {},
            { stroke: stage.ink, width: 1.8, points: { show: false } },
            { stroke: "transparent", width: 0, points: { show: false } },
            { stroke: "transparent", width: 0, points: { show: false } },
          ],
          bands: [{ series: [3, 2], fill: fade(stage.ink, 0.22) }],
          hooks: { drawClear: [(u) => this.middle(u, lo, hi), bands] },
        },
        [x, sup, edge(0), edge(1)],
        {
          height: 130,
          label: say("curves.told_support", { lo: num(lo), hi: num(hi) }),
        },
      ),
    );
  }

  listen(u) {
    const go = (e) => {
      const box = u.over.getBoundingClientRect();
      this.seek(u.posToVal(Math.max(0, Math.min(box.width, e.clientX - box.left)), "x"));
    };
    u.over.style.touchAction = "pan-y";
    u.over.addEventListener("pointerdown", (e) => {
      if (e.button || e.target !== u.over) return;
      u.over.setPointerCapture(e.pointerId);
      go(e);
      const move = (m) => go(m);
      u.over.addEventListener("pointermove", move);
      const end = () => u.over.removeEventListener("pointermove", move);
      u.over.addEventListener("pointerup", end, { once: true });
      u.over.addEventListener("pointercancel", end, { once: true });
    });
  }

  middle(u, lo, hi) {
    const c = u.ctx;
    const y0 = u.valToPos(hi, "y", true);
    const y1 = u.valToPos(lo, "y", true);
    c.fillStyle = fade(stage.accent, 0.12);
    c.fillRect(u.bbox.left, y0, u.bbox.width, y1 - y0);
  }

  bands(u) {
    const c = u.ctx;
    const px = devicePixelRatio;
    const { top, height } = u.bbox;
    const { plain } = this.motion.a;
    if (plain?.marked) {
      const [x0, x1] = [plain.from_s, plain.to_s].map((t) => u.valToPos(t, "x", true));
      c.fillStyle = fade(stage.quiet, 0.22);
      c.fillRect(x0, top, x1 - x0, height);
      c.fillStyle = stage.ink;
      for (const x of [x0, x1]) c.fillRect(Math.round(x), top, px, height);
    }
    for (const r of this.motion.reps) {
      const x0 = u.valToPos(r.start_s, "x", true);
      const x1 = u.valToPos(r.end_s, "x", true);
      c.fillStyle = fade(stage.quiet, 0.1);
      c.fillRect(x0, top, x1 - x0, height);
      hatch(c, r.tempo, x0, top, x1 - x0, height, fade(stage.quiet, 0.2), px);
      if (u !== this.charts[0]?.u && this.charts.length) continue;
      c.fillStyle = stageTempos[r.tempo] || stage.quiet;
      c.fillRect(x0, top, x1 - x0, 3 * px);
      c.fillStyle = fade(stage.ink, 0.55); // reps may touch: an edge keeps them apart
      c.fillRect(Math.round(x0), top, px, height);
      c.fillRect(Math.round(x1), top, px, height);
    }
  }

  /** The names of the bands, and thin lines at the bottoms and at the flight. */
  moments(u) {
    const c = u.ctx;
    const px = devicePixelRatio;
    const { top, height } = u.bbox;
    c.save();
    c.font = `650 ${11.5 * px}px system-ui, sans-serif`;
    c.textBaseline = "top";
    c.textAlign = "left";
    for (const r of this.motion.reps) {
      const x0 = u.valToPos(r.start_s, "x", true);
      const x1 = u.valToPos(r.end_s, "x", true);
      const w = x1 - x0;
      c.strokeStyle = fade(stage.ink, 0.5);
      c.lineWidth = px;
      c.setLineDash([2 * px, 3 * px]);
      for (const m of this.motion.moments(r)) {
        if (m.key === "start_s" || m.key === "end_s") continue;
        const x = Math.round(u.valToPos(m.timeS, "x", true)) + 0.5;
        c.beginPath();
        c.moveTo(x, top + 22 * px);
        c.lineTo(x, top + height);
        c.stroke();
      }
      c.setLineDash([]);
      const name = { rep: r.number, tempo: repTempo(r) };
      const full = r.partial
        ? say("curves.rep_partial", { ...name, why: whyPartial(this.motion.a, r) })
        : say("curves.rep", name);
      const medium = `${r.number} ${name.tempo}`;
      const short = `${r.number}`;
      const sign = 14 * px;
      const text =
        c.measureText(full).width + sign + 8 * px < w
          ? full
          : c.measureText(medium).width + sign + 8 * px < w
            ? medium
            : short;
      const tw = c.measureText(text).width + sign + 8 * px;
      c.fillStyle = fade(drawn.under, 0.72);
      c.fillRect(x0, top + 3 * px, Math.min(w, tw), 18 * px);
      tempoSign(c, r.tempo, x0 + 9 * px, top + 12 * px, 4.2 * px, stageTempos[r.tempo] || stage.quiet);
      c.fillStyle = stage.ink;
      c.fillText(text, x0 + sign + 3 * px, top + 6.5 * px);
    }
    c.restore();
  }

  /** The joints' signs on their curves, at the bottom of each rep. */
  signs(u) {
    const c = u.ctx;
    const px = devicePixelRatio;
    this.motion.curves.forEach((curve, k) => {
      if (!u.series[k + 1].show || curve.sign === "bar") return;
      for (const r of this.motion.reps) {
        const v = this.motion.value(curve.key, r.bottom_s);
        if (!Number.isFinite(v)) continue;
        const x = u.valToPos(r.bottom_s, "x", true);
        const y = u.valToPos(v, "y", true);
        const s = 4.6 * px;
        c.fillStyle = curve.color;
        c.beginPath();
        if (curve.sign === "triangle") {
          c.moveTo(x, y - 1.25 * s);
          c.lineTo(x + 1.1 * s, y + 0.8 * s);
          c.lineTo(x - 1.1 * s, y + 0.8 * s);
        } else if (curve.sign === "tip") {
          c.moveTo(x, y + 1.25 * s);
          c.lineTo(x - 1.1 * s, y - 0.8 * s);
          c.lineTo(x + 1.1 * s, y - 0.8 * s);
        } else if (curve.sign === "diamond") {
          c.moveTo(x, y - 1.25 * s);
          c.lineTo(x + 1.25 * s, y);
          c.lineTo(x, y + 1.25 * s);
          c.lineTo(x - 1.25 * s, y);
        } else if (curve.sign === "square") c.rect(x - 0.9 * s, y - 0.9 * s, 1.8 * s, 1.8 * s);
        else c.arc(x, y, s, 0, 2 * Math.PI);
        c.fill();
      }
    });
  }

  /** Moves the playhead. */
  at(timeS) {
    this.timeS = timeS;
    this.place();
    for (const c of this.motion?.curves || []) this.values[c.key].textContent = deg(this.motion.value(c.key, timeS));
  }

  place() {
    if (this.timeS === undefined) return;
    this.charts.forEach(({ u }, i) => {
      const head = this.heads[i];
      if (head) head.style.left = `${u.valToPos(this.timeS, "x")}px`;
    });
    for (const el of this.handles || [])
      if (!el.dataset.moving) el.style.left = `${this.charts[0].u.valToPos(Number(el.dataset.at), "x")}px`;
  }

  /** Whether somebody has hold of a handle: it moves, or was moved and is not sent yet. */
  get held() {
    return this.handles.some((el) => el.dataset.moving || el.dataset.unsent);
  }

  /** Shows handles at the start, bottom and end of a rep; null hides them. */
  edit(
    rep,
    focused = rep === this.editing ? this.handles.find((el) => el === document.activeElement)?.dataset.testid : null,
  ) {
    this.editing = rep;
    for (const el of this.handles || []) el.remove();
    this.handles = [];
    const r = rep === null || rep === undefined ? null : this.motion.reps.find((x) => x.number === rep);
    if (!r) return;
    const u = this.charts[0].u;
    const step = 1 / this.motion.series.rate_hz;
    for (const [key, name, word] of [
      ["start_s", "start", say("curves.start")],
      ["bottom_s", "bottom", say("curves.bottom")],
      ["end_s", "end", say("curves.end")],
    ]) {
      if (r[key] === null) continue;
      const el = h(
        "div",
        {
          class: `handle handle-${name}`,
          role: "slider",
          tabindex: "0",
          "aria-label": say("curves.handle", { moment: word, rep: r.number }),
          "aria-valuemin": "0",
          "aria-valuemax": String(this.motion.series.time_s.at(-1)),
          data: { at: String(r[key]), testid: `handle-${name}` },
        },
        h("span", {}, word),
      );
      const set = (t) => {
        const all = this.motion.series.time_s;
        el.dataset.at = String(Math.max(all[0], Math.min(all.at(-1), t)));
        el.dataset.unsent = "1";
        el.style.left = `${u.valToPos(Number(el.dataset.at), "x")}px`;
        el.setAttribute("aria-valuenow", Number(el.dataset.at).toFixed(3));
        el.setAttribute("aria-valuetext", say("curves.seconds", { time: num(Number(el.dataset.at), 2) }));
        this.seek(Number(el.dataset.at));
      };
      let sent = r[key];
      const done = () => {
        const t = Number(el.dataset.at);
        delete el.dataset.unsent;
        if (Math.abs(t - sent) <= step / 4) return;
        sent = t;
        this.changed(r, key, t);
      };
      el.setAttribute("aria-valuenow", r[key].toFixed(3));
      el.setAttribute("aria-valuetext", say("curves.seconds", { time: num(r[key], 2) }));
      el.addEventListener("pointerdown", (e) => {
        e.preventDefault();
        e.stopPropagation();
        el.focus();
        el.setPointerCapture(e.pointerId);
        el.dataset.moving = "1";
        const box = u.over.getBoundingClientRect();
        const move = (m) => set(u.posToVal(m.clientX - box.left, "x"));
        el.addEventListener("pointermove", move);
        const end = () => {
          el.removeEventListener("pointermove", move);
          delete el.dataset.moving;
          done();
        };
        el.addEventListener("pointerup", end, { once: true });
        el.addEventListener("pointercancel", end, { once: true });
      });
      el.addEventListener("keydown", (e) => {
        const by = { ArrowLeft: -step, ArrowRight: step }[e.key];
        if (by) {
          e.preventDefault();
          e.stopPropagation();
          set(Number(el.dataset.at) + by * (e.shiftKey ? 10 : 1));
        } else if (e.key === "Enter" || e.key === " ") {
          e.preventDefault();
          e.stopPropagation();
          done();
        }
      });
      el.addEventListener("blur", () => {
        if (!el.dataset.moving) done();
      });
      el.style.left = `${u.valToPos(r[key], "x")}px`;
      u.over.append(el);
      this.handles.push(el);
      if (el.dataset.testid === focused) el.focus({ preventScroll: true });
    }
  }
}
