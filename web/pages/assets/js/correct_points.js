// Correcting a point: dragged on the picture, or moved by the arrow keys of its pad.
import { anglesOf, follow } from "./body.js";
import { drawn, fade } from "./colours.js";
import { $, fill, h } from "./dom.js";
import { deg, num, upper } from "./format.js";
import { drag, nudging } from "./grab.js";
import { bones, pointNames } from "./motion.js";
import { blurFace } from "./overlay.js";
import { named, say } from "./words.js";

/** @import { Correcting } from "./correct.js" */

const reach = 26; // CSS pixels around a point that a finger may miss it by
/** By how much an angle became another one, the short way round. */
const turned = (before, after) => ((((after - before + 180) % 360) + 360) % 360) - 180;
const closer = 3; // by how many times the loupe shows more

export class Points {
  /** @param {Correcting} correcting */
  constructor(correcting) {
    this.correcting = correcting;
    this.page = correcting.page;
    this.chosen = "knee";
    /** @type {{name: string, frame: number, at: number[]} | null} */
    this.moving = null; // while a point is dragged or nudged, and until the numbers follow
    this.held = false; // somebody has hold of a point, or has just let go of a key
    this.dragged = false; // a finger or mouse has hold of it
    this.timer = undefined;
    fill(
      $("#point"),
      pointNames.map((n) => h("option", { value: n }, upper(named("point", n)))),
    );
    $("#point").value = this.chosen;
    $("#point").addEventListener("change", () => {
      this.chosen = $("#point").value;
      this.moved(this.page.player.frame);
      this.page.draw();
    });
    $("#point-back").addEventListener("click", () => this.drop(this.chosen, this.page.player.frame));
    nudging(
      $("#pad"),
      (dx, dy) => this.nudge(dx, dy),
      () => this.nudged(),
    );
  }

  /** The page moved to another frame. */
  moved(frame) {
    if (this.timer && this.moving?.frame !== frame) this.sendNudge();
    if (!this.held) this.moving = null;
    const p = this.handle(this.chosen, frame);
    $("#point-at").textContent = p ? `x ${num(p[0], 1)}, y ${num(p[1], 1)} px` : say("correct.not_seen");
    $("#point-back").hidden = !this.correctedAt(this.chosen, frame);
  }

  /** Where a point was put by hand on a frame, or null. */
  correctedAt(name, frame) {
    if (this.moving && this.moving.name === name && this.moving.frame === frame) return this.moving.at;
    const near = this.page.motion.a.near_side;
    const p = (this.correcting.doc.points || []).findLast(
      (x) => x.frame === frame && x.point === name && (x.side === "near" || x.side === near),
    );
    return p ? [p.x_px, p.y_px] : null;
  }

  /** Where a point can be taken hold of: where it was put, else where it is drawn. */
  handle(name, frame) {
    const { motion } = this.page;
    return this.correctedAt(name, frame) || motion.point(name, motion.timeOf(frame)) || motion.tracked(name, frame);
  }

  /** The body as a point that is being moved bends it, or null: {points, value}. */
  bent(frame) {
    if (!this.moving || this.moving.frame !== frame) return null;
    const { motion } = this.page;
    const t = motion.timeOf(frame);
    const was = Object.fromEntries(pointNames.map((n) => [n, motion.point(n, t)]).filter(([, p]) => p));
    if (!was[this.moving.name]) return null;
    const points = follow(was, this.moving.name, this.moving.at);
    const [before, after] = [anglesOf(was, motion.forward), anglesOf(points, motion.forward)];
    return { points, value: (key) => motion.value(key, t) + turned(before[key], after[key]) };
  }

  /** Says where the point in hand is, and the angles with it. */
  tell(frame) {
    const [x, y] = this.moving.at;
    const bent = this.bent(frame);
    const { motion } = this.page;
    const angles = bent ? motion.joints.map((c) => `${c.short} ${deg(bent.value(c.key))}`) : [];
    $("#point-at").textContent = [`x ${num(x, 1)}, y ${num(y, 1)} px`, ...angles].join("; ");
  }

  /** Draws where the network saw each point. */
  draw(c, frame, scale, u) {
    for (const name of pointNames) {
      const seen = this.page.motion.tracked(name, frame);
      if (!seen) continue;
      const [x, y] = [seen[0] * scale, seen[1] * scale];
      c.lineWidth = 1.4 * u;
      c.strokeStyle = drawn.line;
      c.beginPath();
      c.moveTo(x - 3.4 * u, y);
      c.lineTo(x + 3.4 * u, y);
      c.moveTo(x, y - 3.4 * u);
      c.lineTo(x, y + 3.4 * u);
      c.stroke();
    }
  }

  /** Draws a ring around the chosen point, and while it moves dashed lines to see what lies under a finger. */
  drawChosen(c, frame, scale, u) {
    const p = this.handle(this.chosen, frame);
    if (!p) return;
    const [x, y] = [p[0] * scale, p[1] * scale];
    for (const [w, color] of /** @type {[number, string][]} */ ([
      [3.6 * u, fade(drawn.under, 0.8)],
      [1.8 * u, drawn.line],
    ])) {
      c.lineWidth = w;
      c.strokeStyle = color;
      c.beginPath();
      c.arc(x, y, 11 * u, 0, 2 * Math.PI);
      c.stroke();
    }
    if (!this.moving) return;
    c.setLineDash([4 * u, 4 * u]);
    c.lineWidth = u;
    c.beginPath();
    const far = 4 * (c.canvas.width + c.canvas.height);
    c.moveTo(x - far, y);
    c.lineTo(x + far, y);
    c.moveTo(x, y - far);
    c.lineTo(x, y + far);
    c.stroke();
    c.setLineDash([]);
  }

  /** Draws a loupe away from the finger: what lies under it, and where the point goes. */
  drawLoupe(c, frame, scale, u, picture) {
    delete c.canvas.dataset.loupe;
    if (!this.dragged || !this.moving) return;
    const { motion, view, on } = this.page;
    const [px, py] = this.moving.at;
    const r = Math.min(62 * u, 0.24 * Math.min(c.canvas.width, c.canvas.height));
    const x = (px - view.x) * scale < c.canvas.width / 2 ? c.canvas.width - r - 6 * u : r + 6 * u;
    const y = r + 6 * u;
    const s = scale * closer;
    c.canvas.dataset.loupe = [px, py, x, y, r].map((v) => v.toFixed(1)).join(" ");
    /** @type {(p: number[]) => [number, number]} */
    const to = ([a, b]) => [x + (a - px) * s, y + (b - py) * s];
    c.save();
    c.beginPath();
    c.arc(x, y, r, 0, 2 * Math.PI);
    c.clip();
    c.fillStyle = drawn.ground;
    c.fillRect(x - r, y - r, 2 * r, 2 * r);
    if (picture.videoWidth) {
      const k = picture.videoWidth / motion.width;
      const half = r / s;
      c.drawImage(picture, (px - half) * k, (py - half) * k, 2 * half * k, 2 * half * k, x - r, y - r, 2 * r, 2 * r);
    }
    if (on.face) blurFace(c, motion, frame, to, s, picture);
    const at = this.bent(frame)?.points || {};
    c.strokeStyle = drawn.line;
    c.lineWidth = 1.2 * u;
    c.beginPath();
    for (const [a, b] of bones) {
      if (!at[a] || !at[b]) continue;
      c.moveTo(...to(at[a]));
      c.lineTo(...to(at[b]));
    }
    c.moveTo(x - 9 * u, y);
    c.lineTo(x + 9 * u, y);
    c.moveTo(x, y - 9 * u);
    c.lineTo(x, y + 9 * u);
    c.stroke();
    c.restore();
    c.strokeStyle = drawn.line;
    c.lineWidth = 2 * u;
    c.beginPath();
    c.arc(x, y, r, 0, 2 * Math.PI);
    c.stroke();
  }

  /**
   * @param {string} name
   * @param {number} frame
   * @param {number[]} place of the clip's picture, pixels
   */
  put(name, frame, [x, y]) {
    const { motion } = this.page;
    const inside = (v, max) => Math.round(Math.max(0, Math.min(max, v)) * 10) / 10;
    return this.correcting.apply(
      (doc) => {
        doc.points = (doc.points || []).filter((p) => !(p.frame === frame && p.point === name));
        doc.points.push({
          frame,
          point: name,
          side: "near",
          x_px: inside(x, motion.width),
          y_px: inside(y, motion.height),
        });
      },
      say("did.point", { point: named("point", name), frame: frame + 1 }),
    );
  }

  drop(name, frame) {
    return this.correcting.apply(
      (doc) => {
        doc.points = (doc.points || []).filter((p) => !(p.frame === frame && p.point === name));
      },
      say("did.point_back", { point: named("point", name), frame: frame + 1 }),
    );
  }

  nudge(dx, dy) {
    const { player, motion } = this.page;
    const frame = player.frame;
    const from = this.handle(this.chosen, frame);
    if (!from) return;
    player.pause();
    this.held = true;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.sendNudge(), 2000); // should no key be let go of
    this.moving = {
      name: this.chosen,
      frame,
      at: [Math.max(0, Math.min(motion.width, from[0] + dx)), Math.max(0, Math.min(motion.height, from[1] + dy))],
    };
    this.tell(frame);
    this.page.draw();
  }

  /** Sends a nudged point once no key has followed for a moment. */
  nudged() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.sendNudge(), 450);
  }

  sendNudge() {
    clearTimeout(this.timer);
    this.timer = undefined;
    this.held = false;
    if (this.moving) this.put(this.moving.name, this.moving.frame, this.moving.at);
  }

  /** Takes hold of the point next to a place of the picture, if one is in reach. px: the picture's in one of CSS. */
  grab(e, at, frame, px) {
    const found = pointNames
      .map((name) => ({ name, from: this.handle(name, frame) }))
      .filter((p) => p.from)
      .map((p) => ({ ...p, d: Math.hypot(p.from[0] - at[0], p.from[1] - at[1]) }))
      .sort((a, b) => a.d - b.d)[0];
    if (!found || found.d > reach * px) return;
    const { name, from } = found;
    const off = [from[0] - at[0], from[1] - at[1]];
    this.chosen = name;
    $("#point").value = name;
    let gone = false;
    this.moved(frame);
    this.held = this.dragged = true;
    drag(
      this.correcting.canvas,
      e,
      (m) => {
        const q = this.correcting.placeOf(m);
        gone ||= Math.hypot(q[0] - at[0], q[1] - at[1]) > 2 * px;
        if (gone) {
          this.moving = { name, frame, at: [q[0] + off[0], q[1] + off[1]] };
          this.tell(frame);
        }
        this.page.draw();
      },
      (kept) => {
        this.held = this.dragged = false;
        if (kept && gone && this.moving) this.put(name, frame, this.moving.at);
        if (!kept) this.moving = null;
        this.page.draw();
      },
    );
    this.page.draw();
  }
}
