// The page of one athlete: the history over the visits, the contact sheet, editing.
import { call, get } from "./api.js";
import { readAthlete, readNumber } from "./athlete_form.js";
import { axis, chart, inks, onTheme, tempoLook, tempoSign } from "./chart.js";
import { $, $$, complain, fill, h } from "./dom.js";
import { bytes, count, date, exact, known, list, num, range, withUnit } from "./format.js";
import { jointNames, tempo, verdict } from "./signs.js";

const page = $("#athlete-page");
const id = page.dataset.athlete;
const positions = ["ankle", "knee", "hip", "support_point", "heel_rise"];
const measureWords = { rom: "range of motion", at_bottom: "at the bottom" };
/** @import { History, HistoryChange, HistoryPoint, HistorySeries } from "api" */

/** @type {History} */
let history;
let charts = [];
let chosen = null;

// The history.

const keyOf = (/** @type {HistorySeries} */ s) => `${s.movement}|${s.side}|${s.condition}|${s.load_kg ?? ""}`;
/** What a tab is called: the leg and the movement only where there are several. */
function conditionWords(/** @type {HistorySeries} */ s, /** @type {HistorySeries[]} */ all) {
  const words = [s.condition + (known(s.load_kg) ? ` ${exact(s.load_kg)} kg` : "")];
  if (new Set(all.map((o) => o.side)).size > 1) words.push(`${s.side} leg`);
  if (new Set(all.map((o) => o.movement)).size > 1) words.push(`movement ${num(s.movement)}`);
  return words.join(", ");
}
const unitOf = (/** @type {HistorySeries} */ s) => (s.unit === "degrees" ? "°" : "%");

async function load() {
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
    charts.push(draw(el, of, [...visits].sort()));
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

/** One position over the visits: a point with its interval for each visit, tempos side by side. */
function draw(el, of, dates) {
  const look = inks(false);
  const days = dates.map((d) => Date.parse(`${d}T00:00:00Z`) / 864e5);
  const span = Math.max(14, days.at(-1) - days[0]);
  const lo = days[0] - span * 0.12;
  const hi = days.at(-1) + span * 0.12;
  const tempos = of.map((s) => s.tempo);
  const xs = days;
  const data = [xs, ...of.map((s) => dates.map((d) => s.points.find((p) => p.date === d)?.value.value ?? null))];
  const ends = of.flatMap((s) => s.points.flatMap((p) => [...p.value.interval95, p.value.value])).filter(known);
  const yLo = Math.min(...ends);
  const yHi = Math.max(...ends);
  const pad = Math.max(3, 0.12 * (yHi - yLo));
  const shift = (k) => (k - (of.length - 1) / 2) * 7 * devicePixelRatio;
  const drawn = (u) => {
    const c = u.ctx;
    const px = devicePixelRatio;
    of.forEach((s, k) => {
      const { color, dash } = tempoLook(s.tempo);
      const first = s.points[0];
      const last = s.points.at(-1);
      const sdc = last?.since_first?.smallest_detectable;
      if (first && known(sdc)) {
        const y0 = u.valToPos(first.value.value + sdc, "y", true);
        const y1 = u.valToPos(first.value.value - sdc, "y", true);
        const x0 = u.valToPos(Date.parse(first.date) / 864e5, "x", true);
        c.save();
        c.beginPath();
        c.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
        c.clip();
        c.globalAlpha = of.length > 1 ? 0.07 : 0.13;
        c.fillStyle = color;
        c.fillRect(x0, y0, u.bbox.left + u.bbox.width - x0, y1 - y0);
        c.globalAlpha = 0.5;
        c.strokeStyle = color;
        c.lineWidth = px;
        c.setLineDash([2 * px, 3 * px]);
        for (const y of [y0, y1]) {
          c.beginPath();
          c.moveTo(x0, y);
          c.lineTo(u.bbox.left + u.bbox.width, y);
          c.stroke();
        }
        c.restore();
      }
      c.strokeStyle = color;
      c.lineWidth = 2 * px;
      c.setLineDash(dash.map((d) => d * px));
      c.beginPath();
      s.points.forEach((p, i) => {
        const x = u.valToPos(Date.parse(p.date) / 864e5, "x", true) + shift(k);
        const y = u.valToPos(p.value.value, "y", true);
        if (i) c.lineTo(x, y);
        else c.moveTo(x, y);
      });
      c.stroke();
      c.setLineDash([]);
      for (const p of s.points) {
        const x = u.valToPos(Date.parse(p.date) / 864e5, "x", true) + shift(k);
        const y = u.valToPos(p.value.value, "y", true);
        const [a, b] = p.value.interval95;
        if (known(a) && known(b)) {
          const ya = u.valToPos(a, "y", true);
          const yb = u.valToPos(b, "y", true);
          const w = 4 * px;
          c.lineWidth = 1.4 * px;
          c.beginPath();
          c.moveTo(x, ya);
          c.lineTo(x, yb);
          c.moveTo(x - w, ya);
          c.lineTo(x + w, ya);
          c.moveTo(x - w, yb);
          c.lineTo(x + w, yb);
          c.stroke();
        }
        tempoSign(c, s.tempo, x, y, 5.4 * px, look.ground);
        tempoSign(c, s.tempo, x, y, 4.2 * px, color);
      }
    });
  };
  const words = of
    .map(
      (s) => `${s.tempo}: ${s.points.map((p) => `${date(p.date)} ${withUnit(p.value.value, unitOf(s))}`).join(", ")}`,
    )
    .join(". ");
  return chart(
    el,
    {
      padding: [8, 38, 0, 0],
      cursor: { show: false },
      scales: { x: { time: false, range: () => [lo, hi] }, y: { range: () => [yLo - pad, yHi + pad] } },
      axes: [
        axis(look, "Visit", {
          side: 2,
          size: 26,
          label_size: 16,
          splits: (u) => thin(days, u),
          values: (_u, l) => l.map((d) => date(new Date(d * 864e5).toISOString().slice(0, 10))),
        }),
        axis(look, unitOf(of[0]) === "°" ? "Angle, °" : "% of foot", { side: 3, size: 40 }),
      ],
      series: [{}, ...tempos.map(() => ({ stroke: "transparent", width: 0, points: { show: false } }))],
      hooks: { draw: [drawn] },
    },
    data,
    { height: 210, label: `${jointNames[of[0].position]} over the visits. ${words}.` },
  );
}

/** Of days that lie too close to be written side by side, some. */
function thin(days, u) {
  const out = [];
  let last = -Infinity;
  for (const d of days) {
    const x = u.valToPos(d, "x");
    if (x - last < 92) continue;
    out.push(d);
    last = x;
  }
  return out;
}
onTheme(() => {
  if (history) showHistory();
});

// The contact sheet.

for (const b of $$("#sheet-tabs button"))
  b.addEventListener("click", () => {
    for (const o of $$("#sheet-tabs button")) o.setAttribute("aria-pressed", String(o === b));
    for (const box of $$(".sheet-box")) box.hidden = box.dataset.sheet !== b.dataset.sheet;
  });

// Editing.

$("#athlete-form").addEventListener("submit", async (e) => {
  e.preventDefault();
  const fields = readAthlete();
  if (!fields) return;
  try {
    await call("PATCH", `/api/athletes/${id}`, fields);
    location.reload();
  } catch (err) {
    complain(err);
  }
});

let visit = null;
let sure = false;
for (const b of $$(".visit-edit"))
  b.addEventListener("click", () => {
    visit = b.dataset;
    sure = false;
    $("#v-date").value = visit.date;
    $("#v-condition").value = visit.condition;
    $("#v-load").value = visit.load ? exact(Number(visit.load)) : "";
    $("#v-notes").value = visit.notes;
    $("#visit-gone").textContent = "";
    $("#visit-delete").textContent = "Delete the visit";
    $("#visit-dialog").showModal();
  });
$("#visit-form").addEventListener("submit", async (e) => {
  e.preventDefault();
  const load = readNumber($("#v-load"), 0, 500, "Type a load in kilograms");
  if (load === undefined) return;
  try {
    await call("PATCH", `/api/visits/${visit.id}`, {
      date: $("#v-date").value,
      condition: $("#v-condition").value,
      load_kg: load,
      notes: $("#v-notes").value,
    });
    location.reload();
  } catch (err) {
    complain(err);
  }
});
$("#visit-delete").addEventListener("click", async () => {
  if (!sure) {
    sure = true;
    $("#visit-gone").textContent =
      `${count(Number(visit.clips), "clip")} with all numbers and pictures would go for good. Press again to delete.`;
    $("#visit-delete").textContent = "Really delete";
    return;
  }
  try {
    await call("DELETE", `/api/visits/${visit.id}`);
    location.reload();
  } catch (err) {
    complain(err);
  }
});

const typed = $("#delete-name");
const same = () => typed.value.trim().replace(/\s+/g, " ") === page.dataset.name;
typed.addEventListener("input", () => {
  $("#delete-yes").disabled = !same();
});
$("#delete-form").addEventListener("submit", async (e) => {
  e.preventDefault();
  if (!same()) return;
  $("#delete-yes").disabled = true;
  try {
    const d = await call("DELETE", `/api/athletes/${id}`);
    $("#delete-dialog").close();
    const gone = [
      count(d.visits, "visit"),
      count(d.clips, "clip"),
      count(d.results, "result"),
      count(d.comparisons, "comparison"),
      count(d.uploads, "half-sent upload"),
      `${count(d.files, "file")} (${bytes(d.bytes)})`,
    ];
    $("#gone").textContent = `Gone for good: ${list(gone)}.`;
    $("#gone-dialog").addEventListener("close", () => location.assign("/athletes"));
    $("#gone-dialog").showModal();
  } catch (err) {
    complain(err);
    $("#delete-yes").disabled = false;
  }
});

load().catch((err) => {
  fill($("#history"), h("p", { class: "muted" }, "The history cannot be read."));
  complain(err);
});
