// Correcting a rep: its tempo, its times, and whether it counts.
import { $, fill, focused, h } from "./dom.js";
import { num } from "./format.js";
import { repTempo } from "./signs.js";
import { named, say } from "./words.js";

/**
 * @import { Corrections, Rep, RepCorrection } from "api"
 * @import { Correcting } from "./correct.js"
 */

/** @type {() => ["start_s" | "bottom_s" | "end_s", string][]} */
const times = () => [
  ["start_s", say("moment.start")],
  ["bottom_s", say("moment.bottom")],
  ["end_s", say("moment.end")],
];

export class Reps {
  /** @param {Correcting} correcting */
  constructor(correcting) {
    this.correcting = correcting;
    this.page = correcting.page;
  }

  /** Lists the reps with what can be said of each. */
  show() {
    const open = focused()?.dataset?.keep;
    fill(
      $("#rep-edits"),
      this.page.motion.reps.map((r) =>
        h(
          "div",
          { class: "rep-edit" },
          h(
            "div",
            { class: "row between" },
            h("strong", {}, say("rep.of_tempo", { rep: num(r.number), tempo: repTempo(r) })),
            h("label", { class: "check small" }, this.leaveOut(r), say("correct.leave_out")),
          ),
          h(
            "div",
            { class: "times" },
            h("span", {}, say("tempo_field")),
            this.tempo(r),
            times().map(([key, name]) => this.time(r, key, name)),
          ),
        ),
      ),
    );
    if (open) $(`[data-keep="${open}"]`)?.focus();
  }

  /** @param {Rep} r */
  tempo(r) {
    const select = h(
      "select",
      {
        "aria-label": say("correct.tempo_of", { rep: r.number }),
        data: { testid: `tempo-${r.number}`, keep: `t${r.number}` },
        on: {
          change: () =>
            this.set(
              r,
              { tempo: select.value || undefined },
              select.value
                ? say("did.tempo", { rep: r.number, tempo: named("tempo", select.value) })
                : say("did.tempo_found", { rep: r.number }),
            ),
        },
      },
      h("option", { value: "" }, say("correct.as_found")),
      ["slow", "fast", "jump"].map((t) => h("option", { value: t }, named("tempo", t))),
    );
    select.value = this.entryOf(r, this.correcting.doc)?.tempo || "";
    return select;
  }

  /** @param {Rep} r */
  leaveOut(r) {
    const box = h("input", {
      type: "checkbox",
      checked: Boolean(this.entryOf(r, this.correcting.doc)?.left_out),
      data: { testid: `leave-out-${r.number}`, keep: `o${r.number}` },
      on: {
        change: () =>
          this.set(
            r,
            { left_out: box.checked || undefined },
            box.checked ? say("did.left_out", { rep: r.number }) : say("did.counts", { rep: r.number }),
          ),
      },
    });
    return box;
  }

  /**
   * @param {Rep} r
   * @param {"start_s" | "bottom_s" | "end_s"} key
   * @param {string} name
   */
  time(r, key, name) {
    const { motion, player } = this.page;
    const byHand = this.entryOf(r, this.correcting.doc)?.[key] ?? null;
    return [
      h("span", {}, name),
      h("span", { class: "mono small" }, `${num(r[key], 2)} s`, byHand === null ? "" : ` ${say("correct.by_hand")}`),
      h(
        "button",
        {
          type: "button",
          class: "small-btn",
          data: { testid: `set-${key}-${r.number}`, keep: `${key}${r.number}` },
          "aria-label": say("correct.set_time", { moment: name.toLowerCase(), rep: r.number }),
          on: { click: () => this.setTime(r, key, motion.timeOf(player.frame)) },
        },
        say("correct.set"),
      ),
    ];
  }

  /**
   * The entry of a rep in a document: the one whose moment lies in it, or whose times are its own.
   * @param {Rep} rep
   * @param {Corrections} doc
   */
  entryOf(rep, doc) {
    const same = (a, b) => a !== undefined && a !== null && Math.abs(a - b) < 0.02;
    return (
      (doc.reps || []).find((e) => e.at_s >= rep.start_s && e.at_s <= rep.end_s) ||
      (doc.reps || []).find((e) => times().some(([key]) => same(e[key], rep[key])))
    );
  }

  /**
   * @param {Rep} rep
   * @param {Partial<RepCorrection>} change
   * @param {string} what
   */
  set(rep, change, what) {
    return this.correcting.apply((doc) => {
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
    const moment = times()
      .find(([k]) => k === key)[1]
      .toLowerCase();
    const what = say("did.time", { moment, rep: rep.number, time: t.toFixed(2) });
    return this.set(rep, { [key]: Math.round(t * 1e4) / 1e4 }, what);
  }
}
