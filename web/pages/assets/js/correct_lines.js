// Correcting the floor and the vertical: a line drawn by its two ends, or the vertical typed in degrees.
import { drawn, fade } from "./colours.js";
import { $ } from "./dom.js";
import { num, parse } from "./format.js";
import { applyCamera, turnOf, undoCamera } from "./frames.js";
import { drag, nudging } from "./grab.js";
import { sign } from "./overlay.js";
import { say } from "./words.js";

/** @import { Correcting } from "./correct.js" */

const buttons = { floor: "#floor", vertical: "#upright" };

export class Lines {
  /** @param {Correcting} correcting */
  constructor(correcting) {
    this.correcting = correcting;
    this.page = correcting.page;
    /** @type {{kind: string, ends: number[][]} | null} */
    this.line = null; // floor or vertical, while one is drawn
    this.held = false; // somebody has hold of an end
    for (const [kind, button] of Object.entries(buttons)) $(button).addEventListener("click", () => this.start(kind));
    $("#line-use").addEventListener("click", () => this.use());
    nudging(
      $("#line-pad"),
      (dx, dy) => this.moveEnd(Number($("#line-end").value) - 1, dx, dy),
      () => {},
    );
    $("#floor-off").addEventListener("click", () =>
      correcting.apply((doc) => {
        delete doc.floor;
      }, say("did.floor_off")),
    );
    $("#vertical-off").addEventListener("click", () =>
      correcting.apply((doc) => {
        delete doc.vertical_deg;
      }, say("did.vertical_off")),
    );
    $("#vertical-set").addEventListener("click", () => this.setVertical());
    $("#vertical").addEventListener("keydown", (/** @type {KeyboardEvent} */ e) => {
      if (e.key === "Enter") {
        e.preventDefault();
        this.setVertical();
      }
    });
  }

  /** Shows what the corrections say of floor and vertical. */
  show() {
    const { doc } = this.correcting;
    $("#floor-off").hidden = !doc.floor;
    $("#floor").textContent = doc.floor ? say("correct.floor_anew") : say("correct.floor");
    const found = this.page.motion.a.view.roll_deg ?? 0;
    const given = doc.vertical_deg ?? null;
    $("#vertical-off").hidden = given === null;
    if (document.activeElement !== $("#vertical")) $("#vertical").value = num(given ?? found, 1);
    $("#vertical-help").textContent =
      given === null ? say("correct.turn_found", { deg: num(found, 1) }) : say("correct.turn_given");
  }

  draw(c, frame, scale, u) {
    const { doc } = this.correcting;
    const { motion } = this.page;
    const camera = motion.camera(motion.timeOf(frame));
    const draw = (ends, handles) => {
      const [a, b] = ends
        .map((e) => (handles && this.line.kind === "vertical" ? e : undoCamera(camera, e)))
        .map(([x, y]) => [x * scale, y * scale]);
      for (const [w, color] of [
        [4.4 * u, fade(drawn.under, 0.8)],
        [2.2 * u, drawn.line],
      ]) {
        c.lineWidth = w;
        c.strokeStyle = color;
        c.setLineDash(handles ? [] : [8 * u, 5 * u]);
        c.beginPath();
        c.moveTo(...a);
        c.lineTo(...b);
        c.stroke();
      }
      c.setLineDash([]);
      if (!handles) return;
      for (const [x, y] of [a, b]) {
        sign(c, "square", x, y, 8 * u, fade(drawn.under, 0.8));
        sign(c, "square", x, y, 6 * u, drawn.line);
      }
    };
    if (doc.floor && this.line?.kind !== "floor") draw(endsOf(doc.floor), false);
    if (this.line) draw(this.line.ends, true);
  }

  start(kind) {
    if (this.line?.kind === kind) {
      this.end();
      return;
    }
    this.page.player.pause();
    this.line = { kind, ends: kind === "floor" ? this.floorEnds() : this.verticalEnds() };
    this.showLine();
    this.correcting.screen.scrollIntoView({ block: "center", behavior: "auto" });
  }

  /** Where a floor begins: where it was drawn, else under the feet at the start. */
  floorEnds() {
    const { motion } = this.page;
    if (this.correcting.doc.floor) return endsOf(this.correcting.doc.floor);
    const t = motion.series.time_s[0];
    const camera = motion.camera(t);
    const foot = ["heel", "toe"]
      .map((n) => motion.point(n, t))
      .filter(Boolean)
      .map((p) => applyCamera(camera, p)[1]);
    const y = foot.length ? Math.max(...foot) : 0.85 * motion.height;
    return [
      [0.15 * motion.width, y],
      [0.85 * motion.width, y],
    ];
  }

  verticalEnds() {
    const { motion } = this.page;
    const turn = ((this.correcting.doc.vertical_deg ?? motion.a.view.roll_deg ?? 0) * Math.PI) / 180;
    const dx = Math.tan(turn) * 0.3 * motion.height;
    return [
      [0.12 * motion.width + dx, 0.2 * motion.height],
      [0.12 * motion.width - dx, 0.8 * motion.height],
    ];
  }

  showLine() {
    for (const [kind, button] of Object.entries(buttons))
      $(button).setAttribute("aria-pressed", String(this.line?.kind === kind));
    $("#line-ends").hidden = !this.line;
    if (this.line) {
      const turn = this.line.kind === "vertical" ? turnOf(this.line.ends[0], this.line.ends[1]) : null;
      $("#line-use").textContent =
        turn === null ? say("correct.use_floor") : say("correct.use_turn", { deg: num(turn, 1) });
    }
    this.page.draw();
  }

  /** Takes hold of the end next to a place of the picture. */
  grab(e, at, frame) {
    const { motion } = this.page;
    const camera = this.line.kind === "floor" ? motion.camera(motion.timeOf(frame)) : null;
    const [near, far] = this.line.ends
      .map((q) => undoCamera(camera, q))
      .map((q) => Math.hypot(q[0] - at[0], q[1] - at[1]));
    const k = near <= far ? 0 : 1;
    const to = (q) => {
      this.line.ends[k] = applyCamera(camera, q);
      this.showLine();
    };
    this.held = true;
    drag(
      this.correcting.canvas,
      e,
      (m) => to(this.correcting.placeOf(m)),
      () => {
        this.held = false;
      },
    );
    $("#line-end").value = String(k + 1);
    to(at);
  }

  moveEnd(k, dx, dy) {
    if (!this.line) return;
    this.line.ends[k] = [this.line.ends[k][0] + dx, this.line.ends[k][1] + dy];
    this.showLine();
  }

  end() {
    this.line = null;
    this.showLine();
  }

  use() {
    const { kind, ends } = this.line;
    const r = (v) => Math.round(v * 10) / 10;
    this.end();
    if (kind === "floor") {
      const [a, b] = [...ends].sort((p, q) => p[0] - q[0]);
      return this.correcting.apply((doc) => {
        doc.floor = { x1_px: r(a[0]), y1_px: r(a[1]), x2_px: r(b[0]), y2_px: r(b[1]) };
      }, say("did.floor"));
    }
    const turn = Math.round(turnOf(ends[0], ends[1]) * 100) / 100;
    return this.correcting.apply(
      (doc) => {
        doc.vertical_deg = turn;
      },
      say("did.vertical_drawn", { deg: turn.toFixed(1) }),
    );
  }

  setVertical() {
    const x = parse($("#vertical").value);
    const bad = x === null || !(Math.abs(x) <= 45);
    if (bad) $("#vertical").setAttribute("aria-invalid", "true");
    else $("#vertical").removeAttribute("aria-invalid");
    if (bad) {
      $("#vertical-help").textContent = say("correct.turn_range", { least: num(-45), most: num(45) });
      return undefined;
    }
    $("#vertical").blur();
    return this.correcting.apply(
      (doc) => {
        doc.vertical_deg = x;
      },
      say("did.vertical_set", { deg: x }),
    );
  }
}

/** The two ends of a floor in the corrections. */
const endsOf = (f) => [
  [f.x1_px, f.y1_px],
  [f.x2_px, f.y2_px],
];
