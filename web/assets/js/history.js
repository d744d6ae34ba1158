// The history of an athlete: charts and tables of every position over the visits.
import { get } from "./api.js";
import { onTheme } from "./chart.js";
import { $, fill, h } from "./dom.js";
import { count, date, exact, known, num, range, withUnit } from "./format.js";
import { historyChart, unitOf } from "./history_chart.js";
import { jointNames, tempo, verdict } from "./signs.js";

/** @import { History, HistoryChange, HistorySeries } from "api" */

const positions = ["ankle", "knee", "hip", "support_point", "heel_rise"];
const measureWords = { rom: "range of motion", at_bottom: "at the bottom" };
/** @type {History} */
let history;
let charts = [];
let chosen = null;

const keyOf = (/** @type {HistorySeries} */ s) => `${s.movement}|${s.side}|${s.condition}|${s.load_kg ?? ""}`;
/** What a tab is called: the leg and the movement only where there are several. */
function conditionWords(/** @type {HistorySeries} */ s, /** @type {HistorySeries[]} */ all) {
  const words = [s.condition + (known(s.load_kg) ? ` ${exact(s.load_kg)} kg` : "")];
  if (new Set(all.map((o) => o.side)).size > 1) words.push(`${s.side} leg`);
  if (new Set(all.map((o) => o.movement)).size > 1) words.push(`movement ${num(s.movement)}`);
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
    fill(
      box,
      h(
        "div",
        { class: "empty" },
        h("strong", {}, "No history yet"),
        "A measured clip is the first point. Film the same tempos again on another day to see what changed.",
      ),
    );
    return;
  }
  const keys = [...new Map(series.map((s) => [keyOf(s), s])).entries()];
  if (!keys.some(([k]) => k === chosen)) chosen = keys.toSorted((a, b) => points(b[0]) - points(a[0]))[0][0];
  const shown = series.filter((s) => keyOf(s) === chosen);
  const visits = new Set(shown.flatMap((s) => s.points.map((p) => p.date)));
  const tabs =
    keys.length > 1
      ? h(
          "div",
          { class: "tabs", role: "group", "aria-label": "Condition" },
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
  const legend = h(
    "p",
    { class: "legend" },
    [...new Set(shown.map((s) => s.tempo))].map((t) => h("span", {}, tempo(t))),
    h(
      "span",
      { class: "muted" },
      "bars: 95 % interval; band: too small to be told from chance, around the first visit",
    ),
  );
  const grid = h("div", { class: "charts" });
  const tables = h("div", {});
  const warnings = (history.warnings || []).map((w) => h("p", { class: "note" }, w.message));
  fill(
    box,
    tabs,
    warnings,
    visits.size < 2
      ? h("p", { class: "note" }, "One visit so far. From the second one on, progress is told from chance here.")
      : null,
    legend,
    grid,
    tables,
  );
  for (const position of positions) {
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
          `${jointNames[position]}, ${measureWords[of[0].measure] || of[0].measure}`,
        ),
        el,
      ),
    );
    charts.push(historyChart(el, of, [...visits].sort()));
  }
  const rows = shown.toSorted((a, b) => positions.indexOf(a.position) - positions.indexOf(b.position));
  if (shown.every((s) => s.points.length === 1)) tables.append(onlyVisit(rows));
  else tables.append(latest(rows), h("details", {}, h("summary", {}, "Every visit as a table"), everyVisit(rows)));
}

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
                { href: `/clips/${p.clip_ids[0]}`, "aria-label": `${count(p.reps, "rep")}, ${t}, open the clip` },
                count(p.reps, "rep"),
              ),
            ),
          ]
        : "–",
    );
  };
  return h(
    "div",
    { class: "scroll", tabindex: "0", role: "group", "aria-label": "The visit" },
    h(
      "table",
      { class: "sticky dense history", data: { testid: "history-table" } },
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          th("Position"),
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
              h("span", { class: "iv" }, measureWords[rows.find((s) => s.position === position).measure] || ""),
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
            `${jointNames[s.position]}, ${measureWords[s.measure] || s.measure}`,
          ),
        ),
      );
    last = s.position;
    body.append(
      h(
        "tr",
        { data: { position: s.position, tempo: s.tempo } },
        h("th", { scope: "row" }, tempo(s.tempo)),
        h("td", {}, visitLink(p), h("span", { class: "iv" }, count(p.reps, "rep"))),
        h("td", { class: "n" }, valueCell(p, s)),
        h("td", {}, change(p.since_previous, s)),
        h(
          "td",
          {},
          s.points.length > 2
            ? change(p.since_first, s)
            : s.points.length === 2
              ? h("span", { class: "muted" }, "the same visit")
              : "–",
        ),
      ),
    );
  }
  return h(
    "div",
    { class: "scroll", tabindex: "0", role: "group", "aria-label": "The latest visit against the ones before" },
    h(
      "table",
      { class: "sticky dense history", data: { testid: "history-table" } },
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          th("Tempo"),
          th("Latest visit"),
          th("Value", "n"),
          th("Since the visit before"),
          th("Since the first"),
        ),
      ),
      body,
    ),
  );
}

function everyVisit(rows) {
  return h(
    "div",
    { class: "scroll", tabindex: "0", role: "group", "aria-label": "Every visit" },
    h(
      "table",
      { class: "sticky dense history", data: { testid: "history-all" } },
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          th("Position"),
          th("Tempo"),
          th("Visit"),
          th("Value", "n"),
          th("Reps", "n"),
          th("Since the visit before"),
          th("Since the first"),
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
                i > 1 ? change(p.since_first, s) : i === 1 ? h("span", { class: "muted" }, "the same visit") : "–",
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
  return [
    verdict(c.verdict, s.position),
    h("span", { class: "iv" }, `${by}; detectable from ${withUnit(c.smallest_detectable, u)}`),
  ];
}

onTheme(() => {
  if (history) showHistory();
});
