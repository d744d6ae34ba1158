// What a coach marks by hand on frames of a clip: lines, angles and notes. Nothing is measured from them.
import { call, get } from "./api.js";
import { drawn, fade } from "./colours.js";
import { $, $$, complain, fill, h } from "./dom.js";
import { num } from "./format.js";
import { drag, nudging } from "./grab.js";
import { sign } from "./overlay.js";
import { say } from "./words.js";

/** @import { ClipPage } from "./clip.js" */
/** @typedef {{frame: number, kind: string, points_px: number[][], text: string}} Mark */

/** How many places each kind has, in parts of what is shown. */
const starts = {
  line: [
    [0.35, 0.7],
    [0.65, 0.3],
  ],
  angle: [
    [0.35, 0.35],
    [0.5, 0.55],
    [0.35, 0.75],
  ],
  note: [[0.5, 0.3]],
};

/** The angle at a corner between two places, 0 to 180 degrees. @param {number[][]} places */
export function angleDeg([a, corner, b]) {
  const [ax, ay, bx, by] = [a[0] - corner[0], a[1] - corner[1], b[0] - corner[0], b[1] - corner[1]];
  return Math.abs((Math.atan2(ax * by - ay * bx, ax * bx + ay * by) * 180) / Math.PI);
}

const nearPx = 22; // how far from a place a pointer takes hold of it, on the screen

export class Marks {
  /** @param {ClipPage} page */
  constructor(page) {
    this.page = page;
    /** @type {Mark[]} */
    this.list = [];
    /** @type {Mark | null} */
    this.chosen = null;
    this.turn = Promise.resolve();
    for (const b of $$("[data-mark]")) b.addEventListener("click", () => this.add(b.dataset.mark));
    $("#mark-text").addEventListener("change", () => {
      if (!this.chosen) return;
      this.chosen.text = $("#mark-text").value.trim() || (this.chosen.kind === "note" ? say("marks.new_note") : "");
      this.save();
    });
    nudging(
      $("#mark-pad"),
      (dx, dy) => this.move(Number($("#mark-end").value), dx, dy),
      () => this.save(),
    );
    $("#overlay").addEventListener("pointerdown", (e) => this.down(e));
    $("#marks-box").addEventListener("toggle", () => page.draw());
    this.load();
  }

  async load() {
    try {
      this.list = (await get(`/api/clips/${this.page.id}/marks`)).marks;
    } catch (err) {
      complain(err);
    }
    this.show();
  }

  /** Saves one change after the other. */
  save() {
    this.show();
    const marks = this.list.map((m) => ({
      ...m,
      points_px: m.points_px.map((p) => p.map((v) => Math.round(10 * v) / 10)),
    }));
    this.turn = this.turn.then(() =>
      call("PUT", `/api/clips/${this.page.id}/marks`, { marks }).catch((err) => {
        complain(err);
        return this.load();
      }),
    );
    return this.turn;
  }

  add(kind) {
    const { view, player } = this.page;
    player.pause();
    const points = starts[kind].map(([x, y]) => [view.x + x * view.w, view.y + y * view.h]);
    const mark = { frame: player.frame, kind, points_px: points, text: kind === "note" ? say("marks.new_note") : "" };
    this.list.push(mark);
    this.chosen = mark;
    this.save();
    if (kind === "note") {
      $("#mark-text").focus();
      $("#mark-text").select();
    }
  }

  move(k, dx, dy) {
    const p = this.chosen?.points_px[k];
    if (!p) return;
    const { motion } = this.page;
    p[0] = Math.max(0, Math.min(motion.width, p[0] + dx));
    p[1] = Math.max(0, Math.min(motion.height, p[1] + dy));
    this.show();
  }

  /** What a mark says. @param {Mark} m */
  words(m) {
    const what = m.kind === "angle" ? say("marks.angle", { deg: num(angleDeg(m.points_px)) }) : "";
    if (m.kind === "note") return m.text;
    return [what || say("marks.line"), m.text].filter(Boolean).join(", ");
  }

  show() {
    const { page } = this;
    fill(
      $("#marks"),
      this.list.length
        ? this.list.map((m) => {
            const what = say("marks.at", { time: num(page.motion.times[m.frame], 2), what: this.words(m) });
            return h(
              "li",
              { data: { testid: "mark" } },
              h(
                "button",
                {
                  type: "button",
                  class: "small-btn",
                  "aria-pressed": String(m === this.chosen),
                  on: {
                    click: () => {
                      this.chosen = m;
                      page.player.pause();
                      page.player.seek(m.frame);
                      this.show();
                    },
                  },
                },
                what,
              ),
              h(
                "button",
                {
                  type: "button",
                  class: "small-btn",
                  "aria-label": say("marks.remove_this", { what }),
                  on: {
                    click: () => {
                      this.list = this.list.filter((o) => o !== m);
                      if (this.chosen === m) this.chosen = null;
                      this.save();
                    },
                  },
                },
                say("marks.remove"),
              ),
            );
          })
        : h("li", { class: "muted" }, say("marks.none")),
    );
    $("#mark-edit").hidden = !this.chosen;
    if (this.chosen) {
      if ($("#mark-text") !== document.activeElement) $("#mark-text").value = this.chosen.text;
      const places = this.chosen.points_px;
      if ($$("#mark-end option").length !== places.length)
        fill(
          $("#mark-end"),
          places.map((_, k) => h("option", { value: String(k) }, say("marks.place", { number: k + 1 }))),
        );
    }
    page.draw();
  }

  /** Takes hold of the place next to a pointer. @param {PointerEvent} e */
  down(e) {
    const { page } = this;
    if (page.correcting?.on || e.button || !$("#marks-box").open) return;
    const canvas = $("#overlay");
    const at = page.correcting.placeOf(e);
    const perPx = page.view.w / canvas.getBoundingClientRect().width;
    let best = null;
    for (const m of this.list) {
      if (m.frame !== page.player.frame) continue;
      for (const [k, p] of m.points_px.entries()) {
        const far = Math.hypot(p[0] - at[0], p[1] - at[1]);
        if (far < nearPx * perPx && (!best || far < best.far)) best = { m, k, far };
      }
    }
    if (!best) return;
    this.chosen = best.m;
    this.show();
    $("#mark-end").value = String(best.k);
    drag(
      canvas,
      e,
      (moved) => {
        const [x, y] = page.correcting.placeOf(moved);
        const p = best.m.points_px[best.k];
        this.move(best.k, x - p[0], y - p[1]);
      },
      () => this.save(),
    );
  }

  /** Draws the marks of a frame, on a canvas whose origin is that of the clip's picture. */
  draw(c, frame, scale, u) {
    for (const m of this.list) {
      if (m.frame !== frame) continue;
      const at = m.points_px.map(([x, y]) => [x * scale, y * scale]);
      for (const [w, color] of [
        [5 * u, fade(drawn.under, 0.8)],
        [2.4 * u, drawn.line],
      ]) {
        c.lineWidth = w;
        c.strokeStyle = color;
        c.setLineDash([]);
        c.beginPath();
        for (const [k, p] of at.entries()) {
          if (k) c.lineTo(p[0], p[1]);
          else c.moveTo(p[0], p[1]);
        }
        c.stroke();
      }
      for (const [x, y] of at) {
        sign(c, "square", x, y, (m === this.chosen ? 7 : 5) * u, fade(drawn.under, 0.8));
        sign(c, "square", x, y, (m === this.chosen ? 5.4 : 3.6) * u, drawn.line);
      }
      const text = m.kind === "line" ? m.text : this.words(m);
      const [x, y] = at[Math.floor(at.length / 2)];
      c.font = `600 ${12 * u}px system-ui, sans-serif`;
      c.textBaseline = "middle";
      c.lineWidth = 3.4 * u;
      c.strokeStyle = fade(drawn.under, 0.8);
      // Beside the mark, but not out of the picture.
      const first = -c.getTransform().e;
      const last = first + c.canvas.width - c.measureText(text).width - 4 * u;
      const from = Math.max(first + 4 * u, Math.min(x + 9 * u, last));
      c.strokeText(text, from, y);
      c.fillStyle = drawn.line;
      c.fillText(text, from, y);
    }
  }
}
