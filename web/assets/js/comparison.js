// The page of a comparison.
import { call, get, post, save } from "./api.js";
import { axis, chart, inks, onTheme, tempoLook } from "./chart.js";
import { fade } from "./colours.js";
import { $, $$, complain, fill, focused, h, say, svg, toast } from "./dom.js";
import { Duo, still } from "./duo.js";
import { bottomDeg, date, deg, known, list, noZero, num, range } from "./format.js";
import { curves as kinds, Motion } from "./motion.js";
import { doing, estimate, jointNames, lessWords, tempo, verdict } from "./signs.js";

const id = $("#comparison-page").dataset.comparison;
const rank = { slow: 0, fast: 1, jump: 2, first: 0, second: 1, third: 2 };
// Where clips of one tempo are compared, they have the looks of the tempos of the same place.
const looks = { first: "slow", second: "fast", third: "jump" };
const joints = ["ankle", "knee", "hip"];
/** @import { Comparison, MeasuredClip, Pair } from "api" */

/** @type {Comparison} */
let doc;
let said;
/** @type {MeasuredClip[]} */
let clips;
/** @type {Pair} */
let pair;
let charts = [];

async function load() {
  const answer = await get(`/api/comparisons/${id}`);
  doc = answer.comparison;
  said = answer.said;
  clips = answer.clips;
  await Promise.all(
    clips.map(async (c) => {
      const [analysis, frames] = await Promise.all([
        get(`/api/clips/${c.id}/analysis`),
        get(`/api/clips/${c.id}/frames`),
      ]);
      c.motion = new Motion(analysis, frames);
    }),
  );
  $("#loading").hidden = true;
  $("#result").hidden = false;
  if (doc.sides) {
    $("h1").textContent = "What changed?";
    $("#ladder-h").textContent = "Positions at the bottom";
  }
  pair = headline();
  showSentences();
  fill(
    $("#warnings"),
    doc.warnings.map((w) => h("p", { class: "note warn" }, w.message)),
  );
  showPairs();
  showLadder();
  showLanding();
  showDownloads(answer.files);
  startDuo();
}

/** What a tempo or a side is called. */
function word(key) {
  const words = doc.sides?.find((s) => s.key === key)?.words;
  return words ? (/^\d{4}-\d\d-\d\d$/.test(words) ? date(words) : words) : key;
}

const tag = (key) => tempo(looks[key] || key, word(key));
const lookOf = (key) => tempoLook(looks[key] || key);

/** The pair that tells most: the easiest baseline against the hardest challenge. */
function headline() {
  return [...doc.pairs].sort((a, b) => rank[a.baseline] - rank[b.baseline] || rank[b.challenge] - rank[a.challenge])[0];
}

// In sentences.

function moreWords(c) {
  if (c.verdict !== "unclear" || !known(c.lost_deg) || c.reps_to_tell === undefined) return "";
  return c.reps_to_tell > 0 ? `; ${c.reps_to_tell} reps of each would tell` : "; more reps would not tell";
}

function changeWords(c) {
  const iv = c.interval95_deg;
  if (c.verdict === "lost") return `${deg(c.lost_deg)} lost (${range(iv[0], iv[1])})`;
  if (c.verdict === "gained") return `${deg(-c.lost_deg)} gained (${range(-iv[1], -iv[0])})`;
  return `${c.verdict[0].toUpperCase()}${c.verdict.slice(1)}: ${lessWords(c.lost_deg, iv, "°")}`;
}

function atBottom(c) {
  if (!known(c.baseline_bottom_deg) && !known(c.challenge_bottom_deg)) return "";
  const easier = `${bottomDeg(c.baseline_bottom_deg, c.baseline_zero_known)} ${doing(word(pair.baseline))}`;
  const harder = `${bottomDeg(c.challenge_bottom_deg, c.challenge_zero_known)} ${doing(word(pair.challenge))}`;
  return `At the bottom ${easier}, ${harder}. `;
}

function showSentences() {
  fill(
    $("#sentences"),
    joints.map((j) => {
      const c = pair.joints[j];
      const first = doc.first_lost[j];
      const part = (x, t) => (known(x) ? `${deg(x)} ${doing(word(t))}` : `not measured ${doing(word(t))}`);
      const unclear = first
        ? doc.pairs
            .filter(
              (p) =>
                p.baseline === pair.baseline && rank[p.challenge] < rank[first] && p.joints[j].verdict === "unclear",
            )
            .map((p) => word(p.challenge))
        : [];
      return h(
        "li",
        { class: `j-${j}`, data: { joint: j } },
        h(
          "strong",
          {},
          `${jointNames[j]}: ${part(c.baseline_rom_deg, pair.baseline)}, ${part(c.challenge_rom_deg, pair.challenge)}`,
        ),
        h(
          "span",
          {},
          `${changeWords(c)}${moreWords(c)}. `,
          atBottom(c),
          first && (!doc.sides || doc.pairs.length > 1) ? `First lost at: ${word(first)}. ` : "",
          unclear.length ? `Unclear at: ${list(unclear)}.` : "",
        ),
      );
    }),
  );
}

// The table of a pair, and its curves.

function showPairs() {
  const tabs = doc.pairs.map((p) =>
    h(
      "button",
      {
        type: "button",
        "aria-pressed": String(p === pair),
        data: { testid: `pair-${p.baseline}-${p.challenge}` },
        on: {
          click: () => {
            pair = p;
            showPairs();
          },
        },
      },
      `${word(p.baseline)} → ${word(p.challenge)}`,
    ),
  );
  const kept = focused()?.dataset?.testid;
  fill($("#pairs"), tabs);
  if (kept) $(`[data-testid="${kept}"]`)?.focus();
  showTable();
  showCurves();
}

function showTable() {
  const head = h(
    "thead",
    {},
    h(
      "tr",
      {},
      h("th", { scope: "col" }, h("span", { class: "sr" }, "Position")),
      h("th", { scope: "col", class: "n" }, tag(pair.baseline)),
      h("th", { scope: "col", class: "n" }, tag(pair.challenge)),
      h("th", { scope: "col", class: "n" }, "Lost", h("span", { class: "iv" }, "95 % interval")),
      h("th", { scope: "col", class: "n wide-only" }, "Retained"),
      h("th", { scope: "col", class: "wide-only" }, "Verdict"),
    ),
  );
  const group = (title) => h("tr", { class: "group" }, h("th", { scope: "rowgroup", colspan: "6" }, title));
  const row = (name, a, b, lost, iv, kept, word, unit, position) =>
    h(
      "tr",
      { data: { row: name } },
      h("th", { scope: "row" }, name),
      h("td", { class: "n" }, a),
      h("td", { class: "n" }, b, known(kept) ? h("span", { class: "iv narrow-only" }, `${num(kept)} % kept`) : null),
      h(
        "td",
        { class: "n" },
        estimate({ value: lost, interval95: iv }, unit),
        h("span", { class: "narrow-only" }, verdict(word, position)),
      ),
      h("td", { class: "n wide-only" }, known(kept) ? `${num(kept)} %` : "–"),
      h("td", { class: "wide-only" }, verdict(word, position)),
    );
  const kept = (a, b) => (a ? (100 * b) / a : NaN);
  const body = h(
    "tbody",
    {},
    group("Range of motion"),
    joints.map((j) => {
      const c = pair.joints[j];
      return row(
        jointNames[j],
        deg(c.baseline_rom_deg),
        deg(c.challenge_rom_deg),
        c.lost_deg,
        c.interval95_deg,
        c.retained_pct,
        c.verdict,
        "°",
      );
    }),
    group("Angle at the bottom"),
    joints.map((j) => {
      const c = pair.joints[j];
      return row(
        jointNames[j],
        bottomDeg(c.baseline_bottom_deg, c.baseline_zero_known),
        bottomDeg(c.challenge_bottom_deg, c.challenge_zero_known),
        c.bottom_lost_deg,
        c.bottom_interval95_deg,
        kept(c.baseline_bottom_deg, c.challenge_bottom_deg),
        c.bottom_verdict,
        "°",
      );
    }),
    pair.support?.length
      ? [
          group("Support point, % of the foot (minus: further to the toes)"),
          pair.support.map((c) =>
            row(
              c.phase[0].toUpperCase() + c.phase.slice(1),
              `${num(c.baseline)} %`,
              `${num(c.challenge)} %`,
              c.lost,
              c.interval95,
              NaN,
              c.verdict,
              "%",
              "support_point",
            ),
          ),
        ]
      : null,
  );
  fill(
    $("#table"),
    h("caption", { class: "sr" }, `Lost and retained, ${word(pair.baseline)} against ${word(pair.challenge)}`),
    head,
    body,
  );
  const reps = pair.joints.knee;
  const mdc = doc.mdc95_deg;
  const baseline = doc.sides ? "" : `${pair.baseline} `;
  const challenge = doc.sides ? doc.tempo : pair.challenge;
  const unzeroed = joints.some(
    (j) => pair.joints[j].baseline_zero_known === false || pair.joints[j].challenge_zero_known === false,
  );
  const told = mdc && joints.map((j) => `${jointNames[j].toLowerCase()} ${deg(mdc[j])}`).join(", ");
  $("#smallest-note").textContent =
    `From ${num(reps.baseline_reps)} ${baseline}and ${num(reps.challenge_reps)} ${challenge} reps. ` +
    `A change below ${deg(doc.smallest_change_that_matters_deg)} does not matter; ` +
    "lost or gained is said of a larger one whose interval leaves 0 out, unclear when the clips cannot tell." +
    (told ? ` Filmed again, the test tells apart ${told}.` : "") +
    (unzeroed ? ` ${noZero}` : "");
}

const partWords = { descent: "descent", ascent: "ascent", landing: "landing" };

function lineSample(t) {
  const look = lookOf(t);
  const s = svg("svg", { width: 44, height: 12, viewBox: "0 0 44 12", "aria-hidden": "true" });
  s.append(
    svg("line", {
      x1: 0,
      y1: 6,
      x2: 44,
      y2: 6,
      stroke: look.color,
      "stroke-width": 2.6,
      "stroke-dasharray": look.dash.join(" ") || "none",
    }),
  );
  return s;
}

function showCurves() {
  for (const c of charts) c.end();
  charts = [];
  const look = inks(false);
  fill(
    $("#legend"),
    [pair.baseline, pair.challenge].map((t) => h("span", {}, lineSample(t), tag(t))),
    h("span", {}, "▼ falls short from here"),
    h("span", {}, "▲ goes beyond from here"),
  );
  const tempos = [pair.baseline, pair.challenge].map(lookOf);
  fill($("#charts"));
  for (const c of pair.curves || []) {
    const kind = kinds.find((k) => k.key === c.angle);
    const name = kind ? kind.name : c.angle.replaceAll("_", " ");
    const el = h("div", { class: "chart" });
    const only = !c.challenge_deg
      ? `, ${word(pair.baseline)} only`
      : !c.baseline_deg
        ? `, ${word(pair.challenge)} only`
        : "";
    $("#charts").append(
      h(
        "figure",
        { class: "chart-box" },
        h("figcaption", { class: "chart-title" }, `${name}, ${partWords[c.part] || c.part}${only}`),
        el,
      ),
    );
    const x = Array.from({ length: 101 }, (_, i) => i);
    const empty = x.map(() => null);
    const band = (b, k) => (b ? b.map((v) => v[k]) : empty);
    const none = { stroke: "transparent", width: 0, points: { show: false } };
    const wash = (color) => fade(color, 0.2);
    const words = [];
    if (known(c.lost_from_pct)) words.push(`falls short from ${num(c.lost_from_pct)} per cent on`);
    if (known(c.gained_from_pct)) words.push(`goes beyond from ${num(c.gained_from_pct)} per cent on`);
    charts.push(
      chart(
        el,
        {
          padding: [8, 14, 0, 0],
          cursor: { show: false },
          scales: { x: { time: false, range: () => [0, 100] } },
          axes: [
            axis(look, `% of the ${partWords[c.part] || c.part}`, {
              side: 2,
              size: 26,
              label_size: 16,
              splits: () => [0, 25, 50, 75, 100],
            }),
            axis(look, "Angle, °", { side: 3, size: 40 }),
          ],
          series: [
            {},
            { ...none },
            { ...none },
            { ...none },
            { ...none },
            { stroke: tempos[0].color, dash: tempos[0].dash, width: 2.2, points: { show: false } },
            { stroke: tempos[1].color, dash: tempos[1].dash, width: 2.2, points: { show: false } },
          ],
          bands: [
            { series: [2, 1], fill: wash(tempos[0].color) },
            { series: [4, 3], fill: wash(tempos[1].color) },
          ],
          hooks: { draw: [(u) => marks(u, c, look)] },
        },
        [
          x,
          band(c.baseline_band_deg, 0),
          band(c.baseline_band_deg, 1),
          band(c.challenge_band_deg, 0),
          band(c.challenge_band_deg, 1),
          c.baseline_deg || empty,
          c.challenge_deg || empty,
        ],
        {
          height: 190,
          label:
            `${name} in the ${partWords[c.part] || c.part}: ${word(pair.baseline)} and ${word(pair.challenge)}. ` +
            (words.length
              ? `The ${word(pair.challenge)} curve ${words.join(" and ")}.`
              : "The bands do not part for good."),
        },
      ),
    );
  }
  if (!(pair.curves || []).length) fill($("#charts"), h("p", { class: "muted" }, "There are no curves for this pair."));
}

/** Marks where the challenge parts from the baseline. */
function marks(u, c, look) {
  const px = devicePixelRatio;
  const ctx = u.ctx;
  for (const [at, down] of [
    [c.lost_from_pct, true],
    [c.gained_from_pct, false],
  ]) {
    if (!known(at)) continue;
    const x = u.valToPos(at, "x", true);
    const { top, height } = u.bbox;
    const y = top + height;
    const s = 5 * px;
    ctx.strokeStyle = look.quiet;
    ctx.setLineDash([3 * px, 3 * px]);
    ctx.lineWidth = px;
    ctx.beginPath();
    ctx.moveTo(x, top);
    ctx.lineTo(x, y);
    ctx.stroke();
    ctx.setLineDash([]);
    ctx.fillStyle = look.ink;
    ctx.beginPath();
    if (down) {
      ctx.moveTo(x - s, y - 2.2 * s);
      ctx.lineTo(x + s, y - 2.2 * s);
      ctx.lineTo(x, y - 0.4 * s);
    } else {
      ctx.moveTo(x - s, y - 0.4 * s);
      ctx.lineTo(x + s, y - 0.4 * s);
      ctx.lineTo(x, y - 2.2 * s);
    }
    ctx.fill();
  }
}
onTheme(() => {
  if (pair) showCurves();
});

// The ladder and the landing.

const shortUnit = (u) => (u === "degrees" ? "°" : "%");
const pointWords = {
  range: "range",
  control_at_speed: "control at speed",
  control_through_change_of_direction: "control through the change of direction",
};

function cell(at, unit, position) {
  if (!at) return "–";
  const c = at.change;
  const u = shortUnit(unit);
  return [
    u === "°" ? bottomDeg(at.value, at.zero_known) : `${num(at.value)} %`,
    c ? h("span", { class: "iv" }, lessWords(c.lost, c.interval95, u, position)) : null,
    c ? verdict(c.verdict, position) : null,
  ];
}

function showLadder() {
  const { rungs } = doc.ladder;
  const tempos = Object.keys(rank).filter((t) => rungs.some((r) => r.cells.some((c) => c.tempo === t)));
  fill(
    $("#ladder"),
    h("caption", { class: "sr" }, `Each position, changes against ${word(tempos[0] || "slow")}`),
    h(
      "thead",
      {},
      h(
        "tr",
        {},
        h("th", { scope: "col" }, "Position at the bottom"),
        tempos.map((t) => h("th", { scope: "col" }, tag(t))),
        h("th", { scope: "col", class: "wide-only", hidden: Boolean(doc.sides) }, "Points to"),
      ),
    ),
    h(
      "tbody",
      {},
      rungs.map((r) =>
        h(
          "tr",
          { data: { rung: r.position } },
          h("th", { scope: "row" }, jointNames[r.position] || r.position, h("span", { class: "iv" }, r.unit)),
          tempos.map((t) =>
            h(
              "td",
              {},
              cell(
                r.cells.find((c) => c.tempo === t),
                r.unit,
                r.position,
              ),
            ),
          ),
          h("td", { class: "wide-only", hidden: Boolean(doc.sides) }, pointWords[r.points_to] || "–"),
        ),
      ),
    ),
  );
  fill(
    $("#ladder-words"),
    h("br"),
    said.rungs.filter(Boolean).map((s) => h("p", {}, s)),
    h("p", { class: "note" }, said.caution),
  );
}

function showLanding() {
  const l = doc.landing;
  $("#landing-card").hidden = !l;
  if (!l) return;
  const shots = [];
  const repOf = (clip, number) => clip?.motion.reps.find((r) => r.number === number);
  const slowClip = l.slow_clip >= 0 ? clips[l.slow_clip] : null;
  const jumpClip = clips[l.jump_clip];
  const slow = repOf(slowClip, l.slow_rep);
  const jump = repOf(jumpClip, l.jump_rep);
  if (slow) shots.push([slowClip, slow.bottom_s, "Slow bottom", `rep ${slow.number}`]);
  if (jump)
    shots.push(
      [jumpClip, jump.bottom_s, "Bottom before take-off", `rep ${jump.number}`],
      [jumpClip, jump.landing_bottom_s, "Landing bottom", `rep ${jump.number}`],
    );
  const box = $("#stills");
  fill(
    box,
    shots.map(([clip, t, title, rep]) => {
      const canvas = h("canvas", { role: "img", "aria-label": `${title}, ${clip.name}, ${rep}` });
      still(canvas, clip, t, {
        skeleton: true,
        joints: true,
        values: true,
        arcs: true,
        face: $("#face-switch").checked,
      }).catch(() => {});
      return h(
        "figure",
        {},
        h("figcaption", {}, h("strong", {}, title), h("span", { class: "muted" }, `${clip.name}, ${rep}`)),
        canvas,
      );
    }),
  );
  const blocks = [
    ["Against the slow bottom", l.against_slow, "slow"],
    ["Against the bottom before take-off", l.against_takeoff, "take-off"],
  ].filter((b) => b[1]);
  fill(
    $("#landing"),
    h("caption", { class: "sr" }, "Angles at the landing bottom"),
    h(
      "thead",
      {},
      h(
        "tr",
        {},
        h("th", { scope: "col" }, h("span", { class: "sr" }, "Joint")),
        h("th", { scope: "col", class: "n" }, "Before"),
        h("th", { scope: "col", class: "n" }, "Landing"),
        h("th", { scope: "col", class: "n" }, "Lost"),
        h("th", { scope: "col", class: "wide-only" }, "Verdict"),
      ),
    ),
    h(
      "tbody",
      {},
      blocks.map(([title, b]) => [
        h("tr", { class: "group" }, h("th", { scope: "rowgroup", colspan: "5" }, title)),
        joints.map((j) =>
          h(
            "tr",
            {},
            h("th", { scope: "row" }, jointNames[j]),
            h("td", { class: "n" }, deg(b[j].baseline)),
            h("td", { class: "n" }, deg(b[j].challenge)),
            h(
              "td",
              { class: "n" },
              estimate({ value: b[j].lost, interval95: b[j].interval95 }, "°"),
              h("span", { class: "narrow-only" }, verdict(b[j].verdict)),
            ),
            h("td", { class: "wide-only" }, verdict(b[j].verdict)),
          ),
        ),
      ]),
    ),
  );
}

// Sharing.

const fileWords = {
  "coach.pdf": "For the coach, PDF",
  "athlete.pdf": "For the athlete, PDF",
  "report.html": "For the coach, one page (HTML)",
  "athlete.html": "For the athlete, one page (HTML)",
  "sidebyside.mp4": "Side by side, video",
  "overlay.png": "Laid over, picture",
  "curves.svg": "Curves, picture (SVG)",
  "comparison.json": "All numbers (JSON)",
};

function showDownloads(files) {
  const order = Object.keys(fileWords).filter((f) => files.includes(f));
  fill(
    $("#downloads"),
    order.map((name) =>
      h(
        "li",
        {},
        h("span", {}, fileWords[name]),
        h(
          "button",
          {
            type: "button",
            class: "small-btn",
            "aria-label": `Save: ${fileWords[name]}`,
            data: { testid: `get-${name}` },
            on: {
              click: async (e) => {
                const b = e.target;
                const text = b.textContent;
                b.disabled = true;
                b.textContent = "being made …";
                say(`${fileWords[name]} is being made`);
                try {
                  const file = `/comparisons/${id}/files/${name}`;
                  const blur = $("#share-blur").checked ? "blur_face=1" : "";
                  if (name !== "comparison.json") await post(`/api${file}?${blur}`);
                  await save(`${file}?download=1&${blur}`, name);
                  say(`${fileWords[name]} is saved`);
                } catch (err) {
                  complain(err);
                }
                b.disabled = false;
                b.textContent = text;
              },
            },
          },
          "Save",
        ),
      ),
    ),
  );
}
$("#delete-yes").addEventListener("click", () =>
  call("DELETE", `/api/comparisons/${id}`).then(
    () => location.assign(`/athletes/${$("#comparison-page").dataset.athlete}`),
    complain,
  ),
);

// The two videos.

function startDuo() {
  const duo = new Duo({ left: $("#left"), right: $("#right"), box: $("#videos"), shown: showTime });
  const scrub = $("#scrub");
  const options = clips.flatMap((c, i) =>
    c.motion.reps
      .filter((r) => !r.partial && (!doc.sides || r.tempo === doc.tempo))
      .map((r) => ({
        key: `${i}:${r.number}`,
        clip: c,
        rep: r,
        tag: () => (doc.sides ? tag(doc.sides[i].key) : tempo(r.tempo)),
        text: `${doc.sides ? word(doc.sides[i].key) : r.tempo}, rep ${num(r.number)}, ${c.name}`,
      })),
  );
  const find = (key) => options.find((o) => o.key === key);
  for (const [i, name] of ["left", "right"].entries()) {
    const select = $(`#${name}-rep`);
    fill(
      select,
      options.map((o) => h("option", { value: o.key }, o.text)),
    );
    const want = i ? `${pair.challenge_clip}:${pair.challenge_rep}` : `${pair.baseline_clip}:${pair.baseline_rep}`;
    select.value = find(want) ? want : options[Math.min(i, options.length - 1)].key;
    const choose = () => {
      const o = find(select.value);
      duo.choose(i, o.clip, o.rep);
      fill($(`#${name}-cap`), o.tag(), ` ${o.clip.name}, rep ${num(o.rep.number)}`);
      if (duo.ready) limits();
    };
    select.addEventListener("change", choose);
    choose();
  }
  function limits() {
    const landing = duo.sides.some((s) => s.rep.flight_s > 0);
    $("#lock-field").hidden = !landing;
    if (!landing && duo.key !== "bottom_s") {
      duo.key = "bottom_s";
      $("#lock").value = duo.key;
    }
    lockWords();
    const [lo, hi] = duo.range;
    scrub.min = String(lo);
    scrub.max = String(hi);
    scrub.step = "any";
    duo.seek(duo.t);
  }
  function place() {
    return duo.key === "landing_bottom_s" ? "landing bottom" : "bottom";
  }
  function lockWords() {
    $("#duo-h").textContent = `${duo.over ? "Laid over" : "Side by side"}, locked at the ${place()}`;
    $("#to-bottom").textContent = place()[0].toUpperCase() + place().slice(1);
    scrub.setAttribute("aria-label", `Seconds from the ${place()}`);
  }
  function showTime(t) {
    scrub.value = String(t);
    const where =
      t === 0 ? `at the ${place()}` : `${num(Math.abs(t), 2)} s ${t < 0 ? "before" : "after"} the ${place()}`;
    scrub.setAttribute("aria-valuetext", where);
    const words = (s) =>
      kinds
        .slice(0, 3)
        .map((k) => `${k.short} ${deg(s.motion.value(k.key, s.lock(duo.key) + t))}`)
        .join(", ");
    fill(
      $("#readout"),
      h("strong", {}, `${t < 0 ? "−" : t > 0 ? "+" : ""}${num(Math.abs(t), 2)} s from the ${place()}`),
      duo.sides.map((s, i) => h("span", {}, `${i ? "Right" : "Left"}: ${words(s)}`)),
    );
  }
  const view = (over) => {
    duo.over = over;
    lockWords();
    $("#values-switch").hidden = over; // two sets of values on one picture cannot be told apart
    $("#duo").classList.toggle("laid", over);
    $("#duo").lastElementChild.hidden = over;
    $("#view-over").setAttribute("aria-pressed", String(over));
    $("#view-side").setAttribute("aria-pressed", String(!over));
    const [a, b] = ["#left-rep", "#right-rep"].map((s) => find($(s).value));
    fill(
      $("#left-cap"),
      a.tag(),
      ` ${a.clip.name}, rep ${num(a.rep.number)}`,
      over ? [" (white, solid) under ", b.tag(), ` ${b.clip.name}, rep ${num(b.rep.number)} (orange, dashed)`] : [],
    );
    duo.draw();
  };
  $("#view-side").addEventListener("click", () => view(false));
  $("#view-over").addEventListener("click", () => view(true));
  for (const s of ["#left-rep", "#right-rep"]) $(s).addEventListener("change", () => view(duo.over));
  $("#lock").addEventListener("change", () => {
    duo.stop();
    duo.key = $("#lock").value;
    limits();
    duo.seek(0);
  });
  scrub.addEventListener("input", () => {
    duo.stop();
    duo.seek(Number(scrub.value));
  });
  let telling;
  const step = (n) => {
    duo.stop();
    duo.step(n);
    clearTimeout(telling); // a screen reader is told once no other step follows
    telling = setTimeout(() => say($("#readout").textContent), 400);
  };
  duo.onBroken = (clip) =>
    toast(
      clip.result?.files.some((f) => f.name === "web.mp4")
        ? `This browser cannot play the video of ${clip.name}. The numbers are right all the same.`
        : `The video of ${clip.name} is still being made. Reload the page in a moment.`,
      true,
    );
  $("#back1").addEventListener("click", () => step(-1));
  $("#on1").addEventListener("click", () => step(1));
  $("#to-bottom").addEventListener("click", () => {
    duo.stop();
    duo.seek(0);
  });
  $("#play").addEventListener("click", () => duo.toggle());
  duo.onPlayed = (playing) => {
    $("#play").textContent = playing ? "Pause" : "Play";
  };
  for (const b of $$("#speeds button"))
    b.addEventListener("click", () => {
      duo.stop();
      duo.rate = Number(b.dataset.rate);
      for (const o of $$("#speeds button")) o.setAttribute("aria-pressed", String(o === b));
    });
  for (const input of $$("#switches input"))
    input.addEventListener("change", () => {
      duo.on[input.value] = input.checked;
      duo.draw();
      if (input.value === "face") showLanding();
    });
  addEventListener("resize", () => duo.draw());
  addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey || e.defaultPrevented || document.querySelector("dialog[open]")) return;
    const el = /** @type {HTMLElement} */ (e.target);
    if (
      el.matches?.("input:not([type=range]), select, textarea") ||
      (e.key === " " && el.matches?.("button, a, summary"))
    )
      return;
    if (el.closest?.(".scroll") && e.key.startsWith("Arrow")) return;
    const many = e.shiftKey ? 10 : 1;
    const act = {
      ArrowLeft: () => step(-many),
      ArrowRight: () => step(many),
      " ": () => duo.toggle(),
      Home: () => {
        duo.stop();
        duo.seek(0);
      },
    }[e.key];
    if (!act) return;
    e.preventDefault();
    act();
  });
  limits();
  duo.seek(0);
}

load().catch((err) => {
  $("#loading").textContent = err.plain ? err.plain() : "The comparison cannot be shown.";
  complain(err);
});
