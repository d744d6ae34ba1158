// The queue, as the server tells it. Entries stay in place from one state to the next,
// so that the keyboard's focus is not lost.
import { post } from "./api.js";
import { announce, complain, fill, h } from "./dom.js";
import { duration, moment, num } from "./format.js";
import { named, say } from "./words.js";

/** @import { JobView } from "api" */

/** What a job is about in words. @param {JobView} j */
export function jobWords(j) {
  const state =
    j.state === "waiting"
      ? named("job_state", "waiting")
      : j.state === "running"
        ? j.stage
          ? named("stage", j.stage)
          : say("job.starting")
        : j.state === "done" && j.without
          ? say("job.without")
          : named("job_state", j.state);
  return j.kind === "analyze" ? state : say("job.of_kind", { kind: named("job_kind", j.kind), state });
}

/**
 * Says how long everything takes that is not done yet.
 * @param {number | null} leftS
 */
export function leftWords(leftS) {
  return leftS === null ? say("job.left_unknown") : say("job.left", { time: duration(leftS) });
}

/** Shows jobs in the list el; ended says which ended ones are worth showing. */
export class Queue {
  constructor(el, empty, ended) {
    this.el = el;
    this.empty = empty;
    this.ended = ended;
    this.items = new Map();
    // A clip for which nothing waits can be measured by a button in its place.
    const measure = empty.querySelector("[data-measure]");
    measure?.addEventListener("click", () => {
      measure.disabled = true;
      post(`/api/clips/${measure.dataset.measure}/measure`)
        .catch(complain)
        .finally(() => {
          measure.disabled = false;
        });
    });
  }

  /** @param {JobView[]} jobs */
  show(jobs) {
    const shown = jobs.filter((j) => j.state === "waiting" || j.state === "running" || this.ended(j));
    const seen = new Set();
    let before = null;
    for (const j of shown) {
      seen.add(j.id);
      let item = this.items.get(j.id);
      if (!item) {
        item = new Item(j);
        this.items.set(j.id, item);
      }
      item.show(j);
      const next = before ? before.nextSibling : this.el.firstChild;
      if (next !== item.el) this.el.insertBefore(item.el, next);
      before = item.el;
    }
    for (const [id, item] of this.items) {
      if (seen.has(id)) continue;
      item.el.remove();
      this.items.delete(id);
    }
    this.empty.hidden = shown.length > 0;
  }
}

class Item {
  constructor(j) {
    this.state = j.state;
    this.name = h("span", { class: "job-name" });
    this.who = h("span", { class: "muted small" });
    this.bar = h("progress", { "aria-label": say("job.progress") });
    this.line = h("div", { class: "job-line" });
    this.why = h("div", { class: "note bad", hidden: true });
    this.acts = h("div", { class: "job-acts" });
    this.el = h(
      "li",
      { data: { testid: "job", job: j.id } },
      h("div", { class: "job-head" }, this.name, this.who),
      this.bar,
      h("div", { class: "job-row" }, this.line, this.acts),
      this.why,
    );
  }

  show(j) {
    this.el.dataset.state = j.state;
    this.el.dataset.clip = j.clip_id;
    // The name leads to the clip as soon as there are numbers to see.
    const name = j.clip_name || say("job.clip");
    if (j.measured) {
      const link =
        this.name.querySelector("a") || h("a", { href: `/clips/${j.clip_id}`, data: { testid: "job-clip" } });
      link.textContent = name;
      if (!link.isConnected) fill(this.name, link);
    } else this.name.textContent = name;
    this.who.textContent = j.athlete_name;
    const running = j.state === "running";
    this.bar.hidden = !running;
    if (running && j.total > 0) {
      this.bar.max = j.total;
      this.bar.value = j.done;
    } else this.bar.removeAttribute("value");
    this.bar.setAttribute("aria-label", say("job.progress_of", { clip: j.clip_name }));
    const parts = [jobWords(j)];
    if (running && j.total > 0) {
      parts.push(j.stage === "tables" ? "" : say("job.frames", { done: num(j.done), total: num(j.total) }));
      if (j.rate_hz && j.stage !== "tables")
        parts.push(say("job.rate", { rate: num(j.rate_hz, j.rate_hz < 10 ? 1 : 0) }));
    }
    if (j.state === "done" || j.state === "failed")
      parts.push(say("job.ended_at", { time: moment(j.ended_at || j.created_at) }));
    fill(
      this.line,
      parts.filter(Boolean).map((p) => h("span", {}, p)),
    );
    const without = j.state === "done" && j.kind === "analyze" && j.without;
    this.el.classList.toggle("without", Boolean(without));
    this.why.hidden = j.state !== "failed" && !without;
    if (without) fill(this.why, h("p", {}, j.without));
    if (j.state === "failed") {
      const up = (s) => (s ? s[0].toUpperCase() + s.slice(1) + (/[.?!]$/.test(s) ? "" : ".") : "");
      fill(
        this.why,
        h("p", {}, h("strong", {}, up(j.error))),
        j.hint ? h("p", {}, say("job.hint", { hint: up(j.hint) })) : null,
      );
    }
    const wanted = { waiting: "cancel", running: "cancel", failed: "retry", cancelled: "retry", done: "open" }[j.state];
    if (this.acts.dataset.for !== wanted) {
      this.acts.dataset.for = wanted;
      fill(this.acts, this.button(j, wanted));
    }
    if (this.state !== j.state) {
      this.state = j.state;
      announce(
        j.state === "failed"
          ? say("job.told_failed", { clip: j.clip_name, state: named("job_state", j.state), error: j.error })
          : without
            ? say("job.told_without", { clip: j.clip_name, why: j.without })
            : say("job.told", { clip: j.clip_name, state: named("job_state", j.state) }),
      );
    }
  }

  button(j, what) {
    if (what === "open")
      return h(
        "a",
        { class: "button small-btn primary", href: `/clips/${j.clip_id}`, data: { testid: "job-open" } },
        say("job.open"),
      );
    return h(
      "button",
      {
        type: "button",
        class: "small-btn",
        data: { testid: `job-${what}` },
        "aria-label":
          what === "cancel"
            ? say("job.cancel_clip", { clip: j.clip_name })
            : say("job.retry_clip", { clip: j.clip_name }),
        on: { click: () => post(`/api/jobs/${j.id}/${what}`).catch(complain) },
      },
      what === "cancel" ? say("job.cancel") : say("job.retry"),
    );
  }
}
