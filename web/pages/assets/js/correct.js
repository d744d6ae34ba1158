// Correcting by hand. Every change is one whole document that the server keeps, so that it can be undone; what can be
// changed has a module each: points, lines (floor and vertical) and reps.
import { post } from "./api.js";
import { Lines } from "./correct_lines.js";
import { Points } from "./correct_points.js";
import { Reps } from "./correct_reps.js";
import { $, announce, complain, fill, h } from "./dom.js";
import { localText, moment, num } from "./format.js";
import { say } from "./words.js";

/**
 * @import { ClipPage } from "./clip.js"
 * @import { Corrections, Rep } from "api"
 */

export class Correcting {
  /** @param {ClipPage} page */
  constructor(page) {
    this.page = page;
    /** @type {HTMLCanvasElement} */
    this.canvas = $("#overlay");
    /** @type {HTMLElement} */
    this.screen = $("#screen");
    this.on = false;
    this.busy = 0; // changes that were asked for and are not done
    this.turn = Promise.resolve(); // ends when all of them are
    /** @type {Rep | undefined} */
    this.rep = undefined; // where the page stands
    this.points = new Points(this);
    this.lines = new Lines(this);
    this.reps = new Reps(this);
    $("#correct-toggle").addEventListener("click", () => this.toggle());
    $("#undo").addEventListener("click", () => this.send("corrections/undo", () => ({})));
    $("#redo").addEventListener("click", () => this.send("corrections/redo", () => ({})));
    $("#correct-done").addEventListener("click", () => this.toggle());
    this.canvas.addEventListener("pointerdown", (e) => this.down(e));
    addEventListener("keydown", (e) => this.key(e));
  }

  /**
   * The corrections in force.
   * @returns {Corrections}
   */
  get doc() {
    return this.page.info.current || {};
  }

  /** Whether somebody has hold of a point or a line's end, or has just let go of a key. */
  get held() {
    return this.points.held || this.lines.held;
  }

  /** Shows what the server said last. */
  show() {
    const { info } = this.page;
    $("#undo").disabled = !info.can_undo;
    $("#redo").disabled = !info.can_redo;
    fill(
      $("#changes"),
      info.corrections.map((c) =>
        h(
          "li",
          { class: c.undone ? "undone" : "", data: { testid: "change" } },
          localText(c.what),
          " ",
          h("span", { class: "muted small" }, moment(c.created_at), c.undone ? `, ${say("correct.undone")}` : ""),
        ),
      ),
    );
    $("#no-changes").hidden = info.corrections.length > 0;
    this.lines.show();
    this.reps.show();
    this.moved(this.page.player.frame);
    this.page.curves.edit(this.on && this.rep ? this.rep.number : null);
  }

  /** The page moved to another frame. */
  moved(frame) {
    this.points.moved(frame);
  }

  /** The page moved to another rep. */
  atRep(rep) {
    this.rep = rep;
    if (this.on) this.page.curves?.edit(rep ? rep.number : null);
  }

  /** Where a point was put by hand on a frame, or null. */
  correctedAt(name, frame) {
    return this.points.correctedAt(name, frame);
  }

  setTime(rep, key, t) {
    return this.reps.setTime(rep, key, t);
  }

  /** The body as a point that is being moved bends it, or null. */
  bent(frame) {
    return this.on ? this.points.bent(frame) : null;
  }

  /** Ctrl+Z and Ctrl+Shift+Z undo and redo, but in a field, which has its own. */
  key(e) {
    if (!this.on || !(e.ctrlKey || e.metaKey) || e.altKey || e.target.matches?.("input:not([type=range]), textarea"))
      return;
    const button = { z: e.shiftKey ? "#redo" : "#undo", y: "#redo" }[e.key.toLowerCase()];
    if (!button) return;
    e.preventDefault();
    $(button).click();
  }

  /** Draws what can be taken hold of, on a canvas whose origin is that of the clip's picture. */
  draw(c, frame, scale, u) {
    if (!this.on) return;
    this.points.draw(c, frame, scale, u);
    if (!this.lines.line) this.points.drawChosen(c, frame, scale, u);
    this.lines.draw(c, frame, scale, u);
  }

  /**
   * Changes the document, which edit is given, and sends it; the numbers and pictures
   * follow. One change after the other, each made on what the one before has left.
   * @param {(doc: Corrections) => void} edit
   * @param {string} what
   */
  apply(edit, what) {
    return this.send("corrections", () => {
      const doc = structuredClone(this.doc);
      edit(doc);
      return { ...doc, slow_motion_factor: this.page.motion.factor, what };
    });
  }

  send(path, body) {
    $("#took").textContent = say("correct.busy");
    this.busy++;
    this.turn = this.turn.then(() => this.sendNow(path, body));
    return this.turn;
  }

  async sendNow(path, body) {
    try {
      const began = performance.now();
      const said = await post(`/api/clips/${this.page.id}/${path}?base=${this.page.info.base}`, body());
      await this.page.load();
      const s = Math.max(said.took_ms / 1000, 0.01);
      $("#took").textContent = say("correct.took", { time: num(s, s < 1 ? 2 : 1) });
      $("#took").dataset.pageMs = String(Math.round(performance.now() - began));
      $("#took").dataset.revision = String(said.revision);
    } catch (err) {
      $("#took").textContent = say("correct.not_changed");
      this.points.moving = null;
      if (err.status === 409) await this.page.refresh(); // corrected in another window: show that
      this.page.draw();
      this.show();
      complain(err);
    } finally {
      this.busy--;
    }
  }

  toggle() {
    const { motion, player } = this.page;
    this.on = !this.on;
    $("#correct").hidden = $("#correct-bar").hidden = !this.on;
    $("#correct-toggle").setAttribute("aria-pressed", String(this.on));
    $("#correct-toggle").textContent = this.on ? say("correct.done") : say("correct.start");
    this.screen.classList.toggle("correcting", this.on);
    $("#clip-grid").classList.toggle("correcting", this.on);
    this.page.fit();
    this.lines.end();
    player.pause();
    this.rep ??= motion.reps[Math.max(0, motion.repAt(motion.timeOf(player.frame)))];
    this.page.curves.edit(this.on && this.rep ? this.rep.number : null);
    this.page.draw();
    // On a phone what was just begun lies below the heading.
    if (this.on && innerWidth <= 900) $("#clip-grid").scrollIntoView({ block: "start", behavior: "auto" });
    if (!this.on && this.screen.contains(document.activeElement)) $("#correct-toggle").focus();
    announce(this.on ? say("correct.began") : say("correct.ended"));
  }

  /** The place of the clip's picture under a pointer. */
  placeOf(e) {
    const box = this.canvas.getBoundingClientRect();
    const { view } = this.page;
    return [
      view.x + ((e.clientX - box.left) / box.width) * view.w,
      view.y + ((e.clientY - box.top) / box.height) * view.h,
    ];
  }

  down(e) {
    if (!this.on || e.button) return;
    const { view, player } = this.page;
    const at = this.placeOf(e);
    player.pause();
    if (this.lines.line) this.lines.grab(e, at, player.picture);
    else this.points.grab(e, at, player.picture, view.w / this.canvas.getBoundingClientRect().width);
  }
}
