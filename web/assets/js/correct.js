// Correcting by hand: points, reps, floor and vertical. Every change is one whole
// document that the server keeps, so that it can be undone.
import { post } from "./api.js";
import { drawn, fade } from "./colours.js";
import { $, complain, fill, focused, h, say } from "./dom.js";
import { localText, moment, num, parse } from "./format.js";
import { applyCamera, turnOf, undoCamera } from "./frames.js";
import { pointNames } from "./motion.js";
import { sign } from "./overlay.js";

const canvas = $("#overlay");
const screen = $("#screen");
const reach = 26; // CSS pixels around a point that a finger may miss it by

/**
 * @import { ClipPage } from "./clip.js"
 * @import { Corrections, Rep, RepCorrection } from "api"
 */

export class Correcting {
  /** @param {ClipPage} page */
  constructor(page) {
    this.page = page;
    this.on = false;
    this.busy = 0; // changes that were asked for and are not done
    this.turn = Promise.resolve(); // ends when all of them are
    this.chosen = "knee";
    /** @type {Rep | undefined} */
    this.rep = undefined;
    this.timer = undefined;
    this.moving = null; // {name, frame, at} while a point is dragged or nudged, and until the numbers follow
    this.held = false; // somebody has hold of a point or a line's end, or has just let go of a key
    /** @type {{kind: "floor" | "vertical", ends: number[][]} | null} */
    this.line = null; // {kind: floor | vertical, ends: [[x, y], [x, y]]} while one is drawn
    fill(
      $("#point"),
      pointNames.map((n) => h("option", { value: n }, n[0].toUpperCase() + n.slice(1))),
    );
    $("#point").value = this.chosen;
    this.listen();
  }

  /** @returns {Corrections} */
  get doc() {
    return this.page.info.current || {};
  }

  copy() {
    return structuredClone(this.doc);
  }

  // Showing.

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
          h("span", { class: "muted small" }, moment(c.created_at), c.undone ? ", undone" : ""),
        ),
      ),
    );
    $("#no-changes").hidden = info.corrections.length > 0;
    $("#floor-off").hidden = !this.doc.floor;
    $("#floor").textContent = this.doc.floor ? "Draw the floor anew" : "Draw the floor";
    const v = this.page.motion.a.view;
    const given = this.doc.vertical_deg ?? null;
    $("#vertical-off").hidden = given === null;
    if (document.activeElement !== $("#vertical")) $("#vertical").value = num(given ?? v.roll_deg ?? 0, 1);
    $("#vertical-help").textContent =
      given === null
        ? `As found: ${num(v.roll_deg ?? 0, 1)}°. Minus: anticlockwise.`
        : "Set by you. Minus: anticlockwise.";
    this.showReps();
    this.moved(this.page.player.frame);
    this.page.curves.edit(this.on && this.rep ? this.rep.number : null);
  }

  showReps() {
    const { motion } = this.page;
    const open = focused()?.dataset?.keep;
    fill(
      $("#rep-edits"),
      motion.reps.map((r) => {
        const entry = this.entryOf(r, this.doc) || {};
        const tempo = h(
          "select",
          {
            "aria-label": `Tempo of rep ${r.number}`,
            data: { testid: `tempo-${r.number}`, keep: `t${r.number}` },
            on: {
              change: (e) =>
                this.setRep(
                  r,
                  { tempo: e.target.value || undefined },
                  e.target.value ? `rep ${r.number} is ${e.target.value}` : `tempo of rep ${r.number} as found`,
                ),
            },
          },
          h("option", { value: "" }, "as found"),
          ["slow", "fast", "jump"].map((t) => h("option", { value: t }, t)),
        );
        tempo.value = entry.tempo || "";
        const out = h("input", {
          type: "checkbox",
          checked: Boolean(entry.left_out),
          data: { testid: `leave-out-${r.number}`, keep: `o${r.number}` },
          on: {
            change: (e) =>
              this.setRep(
                r,
                { left_out: e.target.checked || undefined },
                e.target.checked ? `rep ${r.number} left out` : `rep ${r.number} counts again`,
              ),
          },
        });
        const times = [
          ["start_s", "Start"],
          ["bottom_s", "Bottom"],
          ["end_s", "End"],
        ].map(([key, name]) => [
          h("span", {}, name),
          h(
            "span",
            { class: "mono small" },
            `${num(r[key], 2)} s`,
            entry[key] !== undefined && entry[key] !== null ? " (by hand)" : "",
          ),
          h(
            "button",
            {
              type: "button",
              class: "small-btn",
              data: { testid: `set-${key}-${r.number}`, keep: `${key}${r.number}` },
              "aria-label": `Set the ${name.toLowerCase()} of rep ${r.number} to this frame`,
              on: { click: () => this.setTime(r, key, motion.timeOf(this.page.player.frame)) },
            },
            "Set to this frame",
          ),
        ]);
        return h(
          "div",
          { class: "rep-edit" },
          h(
            "div",
            { class: "row between" },
            h("strong", {}, `Rep ${num(r.number)}, ${r.tempo}`),
            h("label", { class: "check small" }, out, "leave out"),
          ),
          h("div", { class: "times" }, h("span", {}, "Tempo"), tempo, times),
        );
      }),
    );
    if (open) $(`[data-keep="${open}"]`)?.focus();
  }

  /** The page moved to another frame. */
  moved(frame) {
    if (this.timer && this.moving?.frame !== frame) this.sendNudge();
    if (!this.held) this.moving = null;
    const p = this.handle(this.chosen, frame);
    const hand = this.correctedAt(this.chosen, frame);
    $("#point-at").textContent = p ? `x ${num(p[0], 1)}, y ${num(p[1], 1)} px` : "not seen on this frame";
    $("#point-back").hidden = !hand;
  }

  /** The page moved to another rep. */
  atRep(rep) {
    this.rep = rep;
    if (this.on) this.page.curves?.edit(rep ? rep.number : null);
  }

  /** Where a point was put by hand on a frame, or null. */
  correctedAt(name, frame) {
    if (this.moving && this.moving.name === name && this.moving.frame === frame) return this.moving.at;
    const near = this.page.motion.a.near_side;
    const p = (this.doc.points || []).findLast(
      (x) => x.frame === frame && x.point === name && (x.side === "near" || x.side === near),
    );
    return p ? [p.x_px, p.y_px] : null;
  }

  /** Where a point can be taken hold of: where it was put, else where it is drawn. */
  handle(name, frame) {
    const { motion } = this.page;
    return this.correctedAt(name, frame) || motion.point(name, motion.timeOf(frame)) || motion.tracked(name, frame);
  }

  /** Draws what can be taken hold of. */
  draw(c, frame, scale, u) {
    const { motion } = this.page;
    if (!this.on) return;
    const to = (/** @type {number[]} */ [x, y]) => [x * scale, y * scale];
    for (const name of pointNames) {
      const seen = motion.tracked(name, frame);
      if (!seen) continue;
      const [x, y] = to(seen);
      c.lineWidth = 1.4 * u;
      c.strokeStyle = drawn.line;
      c.beginPath();
      c.moveTo(x - 3.4 * u, y);
      c.lineTo(x + 3.4 * u, y);
      c.moveTo(x, y - 3.4 * u);
      c.lineTo(x, y + 3.4 * u);
      c.stroke();
    }
    const p = this.handle(this.chosen, frame);
    if (p && !this.line) {
      const [x, y] = to(p);
      for (const [w, color] of [
        [3.6 * u, fade(drawn.under, 0.8)],
        [1.8 * u, drawn.line],
      ]) {
        c.lineWidth = w;
        c.strokeStyle = color;
        c.beginPath();
        c.arc(x, y, 11 * u, 0, 2 * Math.PI);
        c.stroke();
      }
      if (this.moving) {
        // dashed lines to see what lies under a finger
        c.setLineDash([4 * u, 4 * u]);
        c.lineWidth = u;
        c.beginPath();
        c.moveTo(0, y);
        c.lineTo(canvas.width, y);
        c.moveTo(x, 0);
        c.lineTo(x, canvas.height);
        c.stroke();
        c.setLineDash([]);
      }
    }
    const camera = motion.camera(motion.timeOf(frame));
    const lineOf = (ends, handles) => {
      const [a, b] = ends.map((e) => to(handles && this.line.kind === "vertical" ? e : undoCamera(camera, e)));
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
      if (handles)
        for (const [x, y] of [a, b]) {
          sign(c, "square", x, y, 8 * u, fade(drawn.under, 0.8));
          sign(c, "square", x, y, 6 * u, drawn.line);
        }
    };
    if (this.doc.floor && this.line?.kind !== "floor") {
      const f = this.doc.floor;
      lineOf(
        [
          [f.x1_px, f.y1_px],
          [f.x2_px, f.y2_px],
        ],
        false,
      );
    }
    if (this.line) lineOf(this.line.ends, true);
  }

  // Changing.

  /**
   * Changes the document, which edit is given, and sends it; the numbers and pictures
   * follow. One change after the other, each made on what the one before has left.
   */
  apply(edit, what) {
    return this.send("corrections", () => {
      const doc = this.copy();
      edit(doc);
      return { ...doc, slow_motion_factor: this.page.motion.factor, what };
    });
  }

  send(path, body) {
    $("#took").textContent = "measuring …";
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
      $("#took").textContent = `measured again in ${num(s, s < 1 ? 2 : 1)} s`;
      $("#took").dataset.pageMs = String(Math.round(performance.now() - began));
      $("#took").dataset.revision = String(said.revision);
    } catch (err) {
      $("#took").textContent = "not changed";
      this.moving = null;
      if (err.status === 409) await this.page.refresh(); // corrected in another window: show that
      this.page.draw();
      this.show();
      complain(err);
    } finally {
      this.busy--;
    }
  }

  setPoint(name, frame, [x, y]) {
    const { motion } = this.page;
    const inside = (v, max) => Math.round(Math.max(0, Math.min(max, v)) * 10) / 10;
    return this.apply(
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
      `${name} moved on frame ${frame + 1}`,
    );
  }

  dropPoint(name, frame) {
    return this.apply(
      (doc) => {
        doc.points = (doc.points || []).filter((p) => !(p.frame === frame && p.point === name));
      },
      `${name} on frame ${frame + 1} as tracked`,
    );
  }

  /** The entry of a rep in a document: the one whose moment lies in it, or whose times are its own. */
  entryOf(rep, doc) {
    const same = (a, b) => a !== undefined && a !== null && Math.abs(a - b) < 0.02;
    return (
      (doc.reps || []).find((e) => e.at_s >= rep.start_s && e.at_s <= rep.end_s) ||
      (doc.reps || []).find(
        (e) => same(e.start_s, rep.start_s) || same(e.bottom_s, rep.bottom_s) || same(e.end_s, rep.end_s),
      )
    );
  }

  setRep(rep, change, what) {
    return this.apply((doc) => {
      doc.reps = doc.reps || [];
      let entry = this.entryOf(rep, doc);
      if (!entry) {
        entry = { at_s: rep.bottom_s };
        doc.reps.push(entry);
      }
      Object.assign(entry, change);
      doc.reps = doc.reps.filter((e) =>
        Object.entries(e).some(([k, v]) => k !== "at_s" && v !== undefined && v !== null && v !== "" && v !== false),
      );
    }, what);
  }

  setTime(rep, key, t) {
    const name = { start_s: "start", bottom_s: "bottom", end_s: "end" }[key];
    return this.setRep(rep, { [key]: Math.round(t * 1e4) / 1e4 }, `${name} of rep ${rep.number} at ${t.toFixed(2)} s`);
  }

  // Listening.

  listen() {
    $("#correct-toggle").addEventListener("click", () => this.toggle());
    $("#undo").addEventListener("click", () => this.send("corrections/undo", () => ({})));
    $("#redo").addEventListener("click", () => this.send("corrections/redo", () => ({})));
    $("#point").addEventListener("change", () => {
      this.chosen = $("#point").value;
      this.moved(this.page.player.frame);
      this.page.draw();
    });
    $("#point-back").addEventListener("click", () => this.dropPoint(this.chosen, this.page.player.frame));
    this.nudging(
      $("#pad"),
      (dx, dy) => this.nudge(dx, dy),
      () => this.nudged(),
    );
    this.nudging(
      $("#line-pad"),
      (dx, dy) => this.moveEnd(Number($("#line-end").value) - 1, dx, dy),
      () => {},
    );
    for (const [button, kind] of [
      ["#floor", "floor"],
      ["#upright", "vertical"],
    ])
      $(button).addEventListener("click", () => this.startLine(kind));
    $("#line-use").addEventListener("click", () => this.useLine());
    $("#floor-off").addEventListener("click", () =>
      this.apply((doc) => {
        delete doc.floor;
      }, "floor as found"),
    );
    $("#vertical-off").addEventListener("click", () =>
      this.apply((doc) => {
        delete doc.vertical_deg;
      }, "vertical as found"),
    );
    $("#vertical-set").addEventListener("click", () => this.setVertical());
    $("#vertical").addEventListener("keydown", (e) => {
      if (e.key === "Enter") {
        e.preventDefault();
        this.setVertical();
      }
    });
    canvas.addEventListener("pointerdown", (e) => this.down(e));
  }

  toggle() {
    this.on = !this.on;
    $("#correct").hidden = $("#correct-bar").hidden = !this.on;
    $("#correct-toggle").setAttribute("aria-pressed", String(this.on));
    $("#correct-toggle").textContent = this.on ? "Done correcting" : "Correct by hand";
    screen.classList.toggle("correcting", this.on);
    $("#clip-grid").classList.toggle("correcting", this.on);
    this.page.fit();
    this.endLine();
    this.page.player.pause();
    this.rep ??=
      this.page.motion.reps[Math.max(0, this.page.motion.repAt(this.page.motion.timeOf(this.page.player.frame)))];
    this.page.curves.edit(this.on && this.rep ? this.rep.number : null);
    this.page.draw();
    say(this.on ? "Correcting by hand" : "Correcting ended");
  }

  /** A pad moves something by its buttons, and by the arrow keys while it has the focus. */
  nudging(pad, by, done) {
    let held = false;
    pad.addEventListener("click", (e) => {
      const b = e.target.closest("button");
      if (b) {
        by(Number(b.dataset.dx), Number(b.dataset.dy));
        done();
      }
    });
    pad.addEventListener("keydown", (e) => {
      const d = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
      if (!d) return;
      e.preventDefault();
      e.stopPropagation();
      held = true;
      by(d[0] * (e.shiftKey ? 10 : 1), d[1] * (e.shiftKey ? 10 : 1));
    });
    // Keys pressed in a row are one change.
    pad.addEventListener("keyup", (e) => {
      if (held && e.key.startsWith("Arrow")) {
        held = false;
        done();
      }
    });
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
    $("#point-at").textContent = `x ${num(this.moving.at[0], 1)}, y ${num(this.moving.at[1], 1)} px`;
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
    if (this.moving) this.setPoint(this.moving.name, this.moving.frame, this.moving.at);
  }

  /** The place of the clip's picture under a pointer. */
  placeOf(e) {
    const box = canvas.getBoundingClientRect();
    const { motion } = this.page;
    return [((e.clientX - box.left) / box.width) * motion.width, ((e.clientY - box.top) / box.height) * motion.height];
  }

  down(e) {
    if (!this.on || e.button) return;
    const { motion, player } = this.page;
    const frame = player.picture;
    const at = this.placeOf(e);
    const px = motion.width / canvas.getBoundingClientRect().width;
    const near = (p) => (p ? Math.hypot(p[0] - at[0], p[1] - at[1]) : Infinity);
    player.pause();
    if (this.line) {
      const camera = this.line.kind === "floor" ? motion.camera(motion.timeOf(frame)) : null;
      const ends = this.line.ends.map((q) => undoCamera(camera, q));
      const k = near(ends[0]) <= near(ends[1]) ? 0 : 1;
      this.drag(
        e,
        (q) => {
          this.line.ends[k] = applyCamera(camera, q);
          this.showLine();
        },
        () => {},
      );
      this.line.ends[k] = applyCamera(camera, at);
      $("#line-end").value = String(k + 1);
      this.showLine();
      return;
    }
    const found = pointNames.map((name) => ({ name, d: near(this.handle(name, frame)) })).sort((a, b) => a.d - b.d)[0];
    if (!found || found.d > reach * px) return;
    this.chosen = found.name;
    $("#point").value = found.name;
    const from = this.handle(found.name, frame);
    const off = [from[0] - at[0], from[1] - at[1]];
    let gone = false;
    this.moved(frame);
    this.drag(
      e,
      (q) => {
        gone ||= Math.hypot(q[0] - at[0], q[1] - at[1]) > 2 * px;
        if (!gone) return;
        this.moving = { name: found.name, frame, at: [q[0] + off[0], q[1] + off[1]] };
        $("#point-at").textContent = `x ${num(this.moving.at[0], 1)}, y ${num(this.moving.at[1], 1)} px`;
      },
      () => {
        if (gone && this.moving) this.setPoint(found.name, frame, this.moving.at);
      },
    );
    this.page.draw();
  }

  drag(e, move, end) {
    e.preventDefault();
    this.held = true;
    canvas.setPointerCapture(e.pointerId);
    const onMove = (m) => {
      move(this.placeOf(m));
      this.page.draw();
    };
    const onEnd = (m) => {
      this.held = false;
      canvas.removeEventListener("pointermove", onMove);
      canvas.removeEventListener("pointerup", onEnd);
      canvas.removeEventListener("pointercancel", onEnd);
      if (m.type === "pointerup") end();
      else {
        this.moving = null;
        this.page.draw();
      }
    };
    canvas.addEventListener("pointermove", onMove);
    canvas.addEventListener("pointerup", onEnd);
    canvas.addEventListener("pointercancel", onEnd);
  }

  // Lines.

  startLine(kind) {
    if (this.line?.kind === kind) {
      this.endLine();
      return;
    }
    const { motion, player } = this.page;
    const w = motion.width;
    const hgt = motion.height;
    let ends;
    if (kind === "floor") {
      const f = this.doc.floor;
      const t = motion.series.time_s[0];
      const camera = motion.camera(t);
      const foot = ["heel", "toe"]
        .map((n) => motion.point(n, t))
        .filter(Boolean)
        .map((p) => applyCamera(camera, p)[1]);
      const y = foot.length ? Math.max(...foot) : 0.85 * hgt;
      ends = f
        ? [
            [f.x1_px, f.y1_px],
            [f.x2_px, f.y2_px],
          ]
        : [
            [0.15 * w, y],
            [0.85 * w, y],
          ];
    } else {
      const turn = ((this.doc.vertical_deg ?? motion.a.view.roll_deg ?? 0) * Math.PI) / 180;
      const dx = Math.tan(turn) * 0.3 * hgt;
      ends = [
        [0.12 * w + dx, 0.2 * hgt],
        [0.12 * w - dx, 0.8 * hgt],
      ];
    }
    player.pause();
    this.line = { kind, ends };
    this.showLine();
    screen.scrollIntoView({ block: "center", behavior: "auto" });
  }

  showLine() {
    for (const [button, kind] of [
      ["#floor", "floor"],
      ["#upright", "vertical"],
    ])
      $(button).setAttribute("aria-pressed", String(this.line?.kind === kind));
    $("#line-ends").hidden = !this.line;
    if (this.line) {
      const turn = this.line.kind === "vertical" ? turnOf(this.line.ends[0], this.line.ends[1]) : null;
      $("#line-use").textContent =
        turn === null ? "Use this line as the floor" : `Use this line: ${num(turn, 1)}° clockwise`;
    }
    this.page.draw();
  }

  moveEnd(k, dx, dy) {
    if (!this.line) return;
    this.line.ends[k] = [this.line.ends[k][0] + dx, this.line.ends[k][1] + dy];
    this.showLine();
  }

  endLine() {
    this.line = null;
    this.showLine();
  }

  useLine() {
    const { kind, ends } = this.line;
    const r = (v) => Math.round(v * 10) / 10;
    this.endLine();
    if (kind === "floor") {
      const [a, b] = [...ends].sort((p, q) => p[0] - q[0]);
      return this.apply((doc) => {
        doc.floor = { x1_px: r(a[0]), y1_px: r(a[1]), x2_px: r(b[0]), y2_px: r(b[1]) };
      }, "floor drawn");
    }
    const turn = Math.round(turnOf(ends[0], ends[1]) * 100) / 100;
    return this.apply(
      (doc) => {
        doc.vertical_deg = turn;
      },
      `vertical drawn: ${turn.toFixed(1)}°`,
    );
  }

  setVertical() {
    const x = parse($("#vertical").value);
    const bad = x === null || !(Math.abs(x) <= 45);
    if (bad) $("#vertical").setAttribute("aria-invalid", "true");
    else $("#vertical").removeAttribute("aria-invalid");
    if (bad) {
      $("#vertical-help").textContent = `Type degrees between ${num(-45)} and ${num(45)}.`;
      return undefined;
    }
    $("#vertical").blur();
    return this.apply((doc) => {
      doc.vertical_deg = x;
    }, `vertical set: ${x}°`);
  }
}
