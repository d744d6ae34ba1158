// The history of an athlete: charts and tables of every position over the visits.
import { get } from "./api.js";
import { onTheme } from "./chart.js";
import { $, fill, h } from "./dom.js";
import { date, exact, known, num, range, withUnit } from "./format.js";
import { historyChart, unitOf } from "./history_chart.js";
import { jointNames, tempo, verdict } from "./signs.js";
import { named, say, speakOf } from "./words.js";

/** @import { Again, History, HistoryChange, HistorySeries, LossSeries } from "api" */

const positions = [
  "ankle",
  "knee",
  "hip",
  "shoulder",
  "elbow",
  "support_point",
  "heel_rise",
  "hip_over_foot",
  "shoulder_over_foot",
  "wrist_over_foot",
];
/** @type {History} */
let history;
let charts = [];
let chosen = null;
let pairChosen = null; // whose losses are shown
let banded = null; // the tempo whose band the charts of positions show

/** The state of the athlete with what was carried and how the set was done otherwise, as a key and in words. */
const stateOf = (c) => `${c.condition}|${c.load_kg ?? ""}|${c.setting ?? ""}`;
function stateWords(c) {
  const condition = named("condition", c.condition);
  const of = known(c.load_kg) ? say("history.load", { condition, load: exact(c.load_kg) }) : condition;
  return c.setting ? say("history.setting", { of, setting: c.setting }) : of;
}
const keyOf = (/** @type {HistorySeries} */ s) => `${s.movement}|${s.side}|${stateOf(s)}`;
const movementName = (/** @type {HistorySeries} */ s) => named("movement", s.movement_key).replaceAll("_", " ");
/** What a tab is called: the leg and the movement only where there are several. */
function conditionWords(/** @type {HistorySeries} */ s, /** @type {HistorySeries[]} */ all) {
  const words = [stateWords(s)];
  if (new Set(all.map((o) => o.side)).size > 1) words.push(named("leg", s.side));
  if (new Set(all.map((o) => o.movement)).size > 1)
    words.push(
      new Set(all.map((o) => o.movement_key)).size > 1
        ? movementName(s)
        : say("history.movement", { name: movementName(s), number: num(s.movement) }),
    );
  return words.join(", ");
}
/** Reads the history of an athlete and shows it; again when the page changes between light and dark. */
export async function loadHistory(id) {
  ({ history } = await get(`/api/athletes/${id}/history`));
  showHistory();
}

function showHistory() {
  const box = $("#history");
  for (const c of charts) c.end();
  charts = [];
  const series = history?.series || [];
  if (!series.length) {
    fill(box, h("div", { class: "empty" }, h("strong", {}, say("history.none")), say("history.none_help")));
    return;
  }
  const keys = [...new Map(series.map((s) => [keyOf(s), s])).entries()];
  if (!keys.some(([k]) => k === chosen)) chosen = keys.toSorted((a, b) => points(b[0]) - points(a[0]))[0][0];
  const shown = series.filter((s) => keyOf(s) === chosen);
  speakOf(shown[0].turn);
  const visits = new Set(shown.flatMap((s) => s.points.map((p) => p.date)));
  const tabs =
    keys.length > 1
      ? h(
          "div",
          { class: "tabs", role: "group", "aria-label": say("history.condition") },
          keys.map(([k, s]) =>
            h(
              "button",
              {
                type: "button",
                class: "small-btn",
                "aria-pressed": String(k === chosen),
                on: {
                  click: () => {
                    chosen = k;
                    showHistory();
                  },
                },
              },
              conditionWords(s, series),
            ),
          ),
        )
      : null;
  const tempos = [...new Set(shown.map((s) => s.tempo))];
  if (!tempos.includes(banded)) banded = tempos[0];
  const legend = h(
    "div",
    { class: "legend", role: "group", "aria-label": say("history.band_of") },
    tempos.map((t) =>
      h(
        "button",
        {
          type: "button",
          class: "small-btn",
          "aria-pressed": String(t === banded),
          data: { testid: `band-${t}` },
          on: {
            click: () => {
              banded = t;
              showHistory();
            },
          },
        },
        tempo(t),
      ),
    ),
    h("span", { class: "muted" }, say("history.bars")),
  );
  const several = visits.size > 1; // one visit is no curve
  const grid = h("div", { class: "charts" });
  const tables = h("div", {});
  const warnings = (history.warnings || []).map((w) => h("p", { class: "note" }, w.message));
  fill(
    box,
    tabs,
    warnings,
    showAgain(shown[0]),
    showLosses(shown[0]),
    several ? null : h("p", { class: "note" }, say("history.one_visit")),
    h("h3", {}, say("history.positions")),
    several ? [legend, grid] : null,
    tables,
  );
  for (const position of several ? positions : []) {
    const of = shown.filter((s) => s.position === position);
    if (!of.length) continue;
    const el = h("div", { class: "chart", data: { testid: `history-${position}` } });
    grid.append(
      h(
        "figure",
        { class: "chart-box" },
        h(
          "figcaption",
          { class: "chart-title" },
          say("history.of", { position: jointNames[position], measure: named("history_measure", of[0].measure) }),
        ),
        el,
      ),
    );
    charts.push(historyChart(el, of, [...visits].sort(), banded));
  }
  for (const [el, of, dates] of lossCharts)
    charts.push(historyChart(el, of, dates, of[0].tempo, say("history.lost_axis")));
  const rows = shown.toSorted((a, b) => positions.indexOf(a.position) - positions.indexOf(b.position));
  if (shown.every((s) => s.points.length === 1)) tables.append(onlyVisit(rows));
  else tables.append(latest(rows), h("details", {}, h("summary", {}, say("history.every")), everyVisit(rows)));
}

// What is lost from one condition to the other.

const pairKey = (/** @type {LossSeries} */ s) =>
  `${s.baseline.tempo}|${stateOf(s.baseline)}|${s.challenge.tempo}|${stateOf(s.challenge)}`;
/** What a pair is called: by its tempos, or where those are one by its conditions. */
function pairWords(/** @type {LossSeries} */ s) {
  const called = (c) => (c.tempo === "jump" ? say("history.landing") : named("tempo", c.tempo));
  return s.baseline.tempo === s.challenge.tempo
    ? say("history.pair", { easier: stateWords(s.baseline), harder: stateWords(s.challenge) })
    : say("history.pair", { easier: called(s.baseline), harder: called(s.challenge) });
}
const lostWords = (deg) =>
  say(deg < -0.5 ? "history.loss_gained" : "history.loss", { size: withUnit(Math.abs(deg), "°") });

/** The way of one joint's loss in a sentence. */
export function lossSentence(/** @type {LossSeries} */ s) {
  const joint = jointNames[s.position];
  const now = s.points.at(-1);
  if (s.points.length < 2) {
    const [lo, hi] = now.interval95_deg;
    const ends = now.lost_deg < -0.5 ? range(-hi, -lo) : range(lo, hi);
    const of = { joint, ends, date: date(now.date) };
    const size = withUnit(Math.abs(now.lost_deg), "°");
    const way = say(now.lost_deg < 0 ? "change.more" : "change.less");
    return lo < 0 && hi > 0
      ? say("history.loss_open", { ...of, change: say("change.by", { size, way }) })
      : say("history.loss_once", { ...of, lost: lostWords(now.lost_deg) });
  }
  const first = s.points[0];
  const c = now.since_first;
  const both = {
    joint,
    before: lostWords(first.lost_deg),
    before_date: date(first.date),
    now: lostWords(now.lost_deg),
    now_date: date(now.date),
  };
  const by = withUnit(Math.abs(c.kept_deg), "°");
  if (c.verdict === "gained") return say("history.loss_kept_more", { ...both, by });
  if (c.verdict === "lost") return say("history.loss_kept_less", { ...both, by });
  if (c.verdict === "held") return say("history.loss_held", both);
  return say("history.loss_unseen", { ...both, smallest: withUnit(c.smallest_detectable_deg, "°") });
}

/** Whether what was lost under a condition holds under it now, in a sentence. */
export function againSentence(/** @type {Again} */ a) {
  const code = a.now.verdict;
  /** @type {"holds" | "lost" | "unclear"} */
  const how = code === "lost" || code === "unclear" ? code : "holds";
  const ends = (p) => {
    const [lo, hi] = p.interval95_deg;
    return p.lost_deg < -0.5 ? range(-hi, -lo) : range(lo, hi);
  };
  return say(`history.again_${how}`, {
    joint: jointNames[a.position],
    harder: say("history.harder", { tempo: named("tempo", a.challenge.tempo), state: stateWords(a.challenge) }),
    before: lostWords(a.before.lost_deg),
    before_ends: ends(a.before),
    before_date: date(a.before.date),
    now: lostWords(a.now.lost_deg),
    now_ends: ends(a.now),
    now_date: date(a.now.date),
    against: a.against ? say("history.again_against", { date: date(a.against) }) : "",
  });
}

/** Those sentences of the leg and the movement shown; nothing where nothing is known. */
function showAgain(/** @type {HistorySeries} */ of) {
  const mine = history.again.filter((a) => a.side === of.side && a.movement === of.movement);
  if (!mine.length) return null;
  return h(
    "div",
    {},
    h("h3", {}, say("history.again")),
    h(
      "ul",
      { class: "loss-sentences", data: { testid: "again" } },
      mine.map((a) => h("li", { data: { joint: a.position, verdict: a.now.verdict } }, againSentence(a))),
    ),
  );
}

let lossCharts = [];

/** What is lost from condition to condition, visit by visit: a sentence a joint, then the numbers. */
function showLosses(/** @type {HistorySeries} */ of) {
  lossCharts = [];
  const mine = (history.losses || []).filter(
    (s) => s.side === of.side && s.movement === of.movement && stateOf(s.challenge) === stateOf(of),
  );
  if (!mine.length) return null;
  const pairs = [...new Map(mine.map((s) => [pairKey(s), s])).entries()];
  if (!pairs.some(([k]) => k === pairChosen)) pairChosen = pairs[0][0];
  const shown = mine.filter((s) => pairKey(s) === pairChosen);
  const dates = [...new Set(shown.flatMap((s) => s.points.map((p) => p.date)))].sort();
  const tabs = h(
    "div",
    { class: "tabs", role: "group", "aria-label": say("history.pairs") },
    pairs.map(([k, s]) =>
      h(
        "button",
        {
          type: "button",
          class: "small-btn",
          "aria-pressed": String(k === pairChosen),
          data: { testid: `loss-${s.baseline.tempo}-${s.challenge.tempo}` },
          on: {
            click: () => {
              pairChosen = k;
              showHistory();
            },
          },
        },
        pairWords(s),
      ),
    ),
  );
  const sentences = h(
    "ul",
    { class: "loss-sentences", data: { testid: "losses" } },
    shown.map((s) => h("li", { data: { joint: s.position } }, lossSentence(s))),
  );
  const grid = h("div", { class: "charts" });
  if (dates.length > 1)
    for (const s of shown) {
      const el = h("div", { class: "chart", data: { testid: `loss-chart-${s.position}` } });
      const title = say("history.loss_of", { joint: jointNames[s.position], pair: pairWords(s) });
      grid.append(h("figure", { class: "chart-box" }, h("figcaption", { class: "chart-title" }, title), el));
      lossCharts.push([el, [asSeries(s)], dates]);
    }
  return h(
    "div",
    { class: "losses" },
    h("h3", {}, say("history.losses")),
    tabs,
    sentences,
    grid,
    lossTable(shown, dates),
  );
}

/** A loss as a chart of the history takes it. */
const asSeries = (/** @type {LossSeries} */ s) => ({
  ...s,
  tempo: s.challenge.tempo,
  unit: "degrees",
  points: s.points.map((p) => ({
    date: p.date,
    value: { value: p.lost_deg, interval95: p.interval95_deg },
    since_first: p.since_first && { smallest_detectable: p.since_first.smallest_detectable_deg },
  })),
});

/** A row a visit, a column a joint. */
const lossTable = (shown, dates) =>
  h(
    "div",
    { class: "scroll", tabindex: "0", role: "group", "aria-label": say("history.losses") },
    h(
      "table",
      { class: "sticky dense history", data: { testid: "loss-table" } },
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          th(say("history.visit")),
          shown.map((s) => th(say("history.lost_of", { joint: jointNames[s.position] }), "n")),
        ),
      ),
      h(
        "tbody",
        {},
        dates.map((d) =>
          h(
            "tr",
            { data: { date: d } },
            h("th", { scope: "row" }, date(d)),
            shown.map((s) => {
              const p = s.points.find((q) => q.date === d);
              const ends = p && range(p.interval95_deg[0], p.interval95_deg[1]);
              return h("td", { class: "n" }, p ? [withUnit(p.lost_deg, "°"), h("span", { class: "iv" }, ends)] : "–");
            }),
          ),
        ),
      ),
    ),
  );

const th = (text, cls) => h("th", { scope: "col", class: cls || "" }, text);
const valueCell = (p, s) => [
  withUnit(p.value.value, unitOf(s)),
  h("span", { class: "iv" }, range(p.value.interval95[0], p.value.interval95[1])),
];
const visitLink = (p) => h("a", { href: `/clips/${p.clip_ids[0]}` }, date(p.date));

/** What there is of one visit: a row for each position, a column for each tempo. */
function onlyVisit(rows) {
  const tempos = ["slow", "fast", "jump"].filter((t) => rows.some((s) => s.tempo === t));
  const cell = (position, t) => {
    const s = rows.find((r) => r.position === position && r.tempo === t);
    const p = s?.points[0];
    return h(
      "td",
      { class: "n" },
      p
        ? [
            valueCell(p, s),
            h(
              "span",
              { class: "iv" },
              h(
                "a",
                {
                  href: `/clips/${p.clip_ids[0]}`,
                  "aria-label": say("history.open", {
                    reps: say("count.reps", { n: p.reps }),
                    tempo: named("tempo", t),
                  }),
                },
                say("count.reps", { n: p.reps }),
              ),
            ),
          ]
        : "–",
    );
  };
  return h(
    "div",
    { class: "scroll", tabindex: "0", role: "group", "aria-label": say("history.the_visit") },
    h(
      "table",
      { class: "sticky dense history", data: { testid: "history-table" } },
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          th(say("head.position")),
          tempos.map((t) => h("th", { scope: "col", class: "n" }, tempo(t))),
        ),
      ),
      h(
        "tbody",
        {},
        [...new Set(rows.map((s) => s.position))].map((position) =>
          h(
            "tr",
            { data: { position } },
            h(
              "th",
              { scope: "row" },
              jointNames[position],
              h("span", { class: "iv" }, named("history_measure", rows.find((s) => s.position === position).measure)),
            ),
            tempos.map((t) => cell(position, t)),
          ),
        ),
      ),
    ),
  );
}

/** The latest value of every position and tempo, and what became of it. */
function latest(rows) {
  const body = h("tbody", {});
  let last = "";
  for (const s of rows) {
    const p = s.points.at(-1);
    if (s.position !== last)
      body.append(
        h(
          "tr",
          { class: "group" },
          h(
            "th",
            { scope: "rowgroup", colspan: "5" },
            say("history.of", { position: jointNames[s.position], measure: named("history_measure", s.measure) }),
          ),
        ),
      );
    last = s.position;
    body.append(
      h(
        "tr",
        { data: { position: s.position, tempo: s.tempo } },
        h("th", { scope: "row" }, tempo(s.tempo)),
        h("td", {}, visitLink(p), h("span", { class: "iv" }, say("count.reps", { n: p.reps }))),
        h("td", { class: "n" }, valueCell(p, s)),
        h("td", {}, change(p.since_previous, s)),
        h(
          "td",
          { class: "wide-only" },
          s.points.length > 2
            ? change(p.since_first, s)
            : s.points.length === 2
              ? h("span", { class: "muted" }, say("history.same"))
              : "–",
        ),
      ),
    );
  }
  return h(
    "div",
    { class: "scroll", tabindex: "0", role: "group", "aria-label": say("history.the_latest") },
    h(
      "table",
      { class: "sticky dense history", data: { testid: "history-table" } },
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          th(say("tempo_field")),
          th(say("history.latest")),
          th(say("history.value"), "n"),
          th(say("history.since_previous")),
          th(say("history.since_first"), "wide-only"),
        ),
      ),
      body,
    ),
  );
}

function everyVisit(rows) {
  return h(
    "div",
    { class: "scroll", tabindex: "0", role: "group", "aria-label": say("history.every_visit") },
    h(
      "table",
      { class: "sticky dense history", data: { testid: "history-all" } },
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          th(say("head.position")),
          th(say("tempo_field")),
          th(say("history.visit")),
          th(say("history.value"), "n"),
          th(say("history.reps"), "n"),
          th(say("history.since_previous")),
          th(say("history.since_first")),
        ),
      ),
      h(
        "tbody",
        {},
        rows.flatMap((s) =>
          s.points.map((p, i) =>
            h(
              "tr",
              { class: i ? "" : "series-first" },
              h("th", { scope: "row" }, jointNames[s.position]),
              h("td", {}, tempo(s.tempo)),
              h("td", {}, visitLink(p)),
              h("td", { class: "n" }, valueCell(p, s)),
              h("td", { class: "n" }, num(p.reps)),
              h("td", {}, change(p.since_previous, s)),
              h(
                "td",
                {},
                i > 1 ? change(p.since_first, s) : i === 1 ? h("span", { class: "muted" }, say("history.same")) : "–",
              ),
            ),
          ),
        ),
      ),
    ),
  );
}

const points = (key) => (history.series || []).filter((s) => keyOf(s) === key).reduce((n, s) => n + s.points.length, 0);

function change(/** @type {HistoryChange | null} */ c, /** @type {HistorySeries} */ s) {
  if (!c) return "–";
  const u = unitOf(s);
  const by = known(c.change)
    ? `${c.change >= 0.5 ? "+" : ""}${withUnit(c.change, u)} (${range(c.interval95[0], c.interval95[1])})`
    : "";
  const smallest = withUnit(c.smallest_detectable, u);
  if (c.verdict === "unclear") return [say("history.unseen", { smallest }), h("span", { class: "iv" }, by)];
  return [
    verdict(c.verdict, s.position),
    h("span", { class: "iv" }, say("history.detectable", { change: by, smallest })),
  ];
}

onTheme(() => {
  if (history) showHistory();
});
