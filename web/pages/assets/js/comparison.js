// The page of a comparison.
import { call, get, post, save } from "./api.js";
import { showCurves } from "./comparison_curves.js";
import { startDuo } from "./comparison_duo.js";
import { nameSides, rank, tag, word } from "./comparison_sides.js";
import { alike, athleteView, legPx } from "./crop.js";
import { $, announce, complain, fill, focused, h } from "./dom.js";
import { bottomDeg, date, deg, known, noZero, num, upper, withUnit } from "./format.js";
import { frontTable } from "./front.js";
import { Motion } from "./motion.js";
import { estimate, jointNames, lessWords, verdict } from "./signs.js";
import { named, say, speakOf } from "./words.js";

const id = $("#comparison-page").dataset.comparison;
/** Those that are compared, from the ground up. @type {Comparison["joints"]} */
let joints = ["ankle", "knee", "hip"];
/** @import { Comparison, MeasuredClip, Pair } from "api" */
/** @import { Duo } from "./duo.js" */

/** @type {Comparison} */
let doc;
let said;
/** @type {MeasuredClip[]} */
let clips;
/** @type {Pair} */
let pair;

async function load() {
  const answer = await get(`/api/comparisons/${id}`);
  doc = answer.comparison;
  said = answer.said;
  speakOf(doc.turn);
  /** @type {Comparison["joints"]} */
  const order = ["ankle", "knee", "hip", "shoulder", "elbow"];
  if (doc.joints?.length) joints = order.filter((j) => doc.joints.includes(j));
  clips = answer.clips;
  nameSides(doc);
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
  if (doc.turn) $("#ladder-h").textContent = say("comparison.positions");
  if (doc.sides) {
    $("h1").textContent = say("comparison.changed");
    $("#ladder-h").textContent = say("comparison.positions");
  }
  pair = headline();
  showAnswers();
  fill(
    $("#warnings"),
    doc.warnings.map((w) => h("p", { class: "note warn" }, w.message)),
  );
  showJoined();
  if (said.front.length) showFronts();
  else {
    showPairs();
    showLadder();
  }
  showDownloads(answer.files);
  const duo = startDuo(doc, clips, pair, () => showLanding(duo));
  showLanding(duo);
}

/** The pair that tells most: the easiest baseline against the hardest challenge. */
function headline() {
  return [...doc.pairs].sort((a, b) => rank[a.baseline] - rank[b.baseline] || rank[b.challenge] - rank[a.challenge])[0];
}

/** What is said of each joint: the number, large, beside its sentence and the position in each condition. */
function showAnswers() {
  fill(
    $("#answers"),
    said.headlines.map((of) =>
      h(
        "li",
        { data: { joint: of.joint, code: of.code, testid: `answer-${of.joint}` } },
        h(
          "p",
          { class: "answer-number" },
          of.number ? h("strong", {}, of.number) : h("span", { class: "muted" }, of.called),
          of.ends ? h("span", { class: "iv" }, of.ends) : null,
        ),
        h(
          "div",
          {},
          h(
            "h2",
            {},
            of.name,
            " ",
            of.code === "moved" ? h("span", { class: "verdict verdict-moved" }, of.called) : verdict(of.code),
          ),
          h("p", { class: "answer-sentence" }, of.sentence),
          h("p", { class: "answer-range" }, of.range),
        ),
        h("ol", { class: "steps" }, of.marks.map(step)),
      ),
    ),
  );
  $("#landing-note").textContent = said.landing_note;
  fill(
    $("#times"),
    said.times.map((line) => h("p", {}, line)),
  );
}

/** A position in one condition, with its sign. */
const step = (at) =>
  h(
    "li",
    {},
    h("strong", {}, at.deg),
    h("span", { class: `step step-${at.code || "start"}`, "aria-hidden": "true" }),
    h("span", { class: "iv" }, /^\d{4}-/.test(at.of) ? date(at.of) : at.of),
    at.word ? h("span", { class: "sr" }, at.word) : null,
  );

/** What the front shows of the same sets stands with what the side shows. */
function showJoined() {
  $("#joined-card").hidden = !said.joined.length;
  fill(
    $("#joined"),
    said.joined.map((t, i) => [i ? h("h3", {}, t.title) : h("p", { class: "muted" }, t.title), frontTable(t)]),
  );
}

/** What the front shows takes the place of positions and curves. */
function showFronts() {
  $("#curves-card").hidden = $("#ladder").parentElement.hidden = true;
  $("#ladder-h").textContent = said.front[0].title;
  fill(
    $("#ladder-words"),
    said.front.map((t, i) => [i ? h("h3", {}, t.title) : null, frontTable(t)]),
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
  showCurves(doc, pair);
}

function showTable() {
  const head = h(
    "thead",
    {},
    h(
      "tr",
      {},
      h("th", { scope: "col" }, h("span", { class: "sr" }, say("head.position"))),
      h("th", { scope: "col", class: "n" }, tag(pair.baseline)),
      h("th", { scope: "col", class: "n" }, tag(pair.challenge)),
      h("th", { scope: "col", class: "n" }, say("head.lost"), h("span", { class: "iv" }, say("head.interval"))),
      h("th", { scope: "col", class: "n wide-only" }, say("head.retained")),
      h("th", { scope: "col", class: "wide-only" }, say("head.verdict")),
    ),
  );
  const group = (title) => h("tr", { class: "group" }, h("th", { scope: "rowgroup", colspan: "6" }, title));
  const row = (name, a, b, lost, iv, kept, word, unit, position) =>
    h(
      "tr",
      { data: { row: name } },
      h("th", { scope: "row" }, name),
      h("td", { class: "n" }, a),
      h(
        "td",
        { class: "n" },
        b,
        known(kept) ? h("span", { class: "iv narrow-only" }, say("table.kept", { pct: num(kept) })) : null,
      ),
      h(
        "td",
        { class: "n" },
        estimate({ value: lost, interval95: iv }, unit),
        h("span", { class: "narrow-only" }, verdict(word, position)),
      ),
      h("td", { class: "n wide-only" }, known(kept) ? `${num(kept)} %` : "–"),
      h("td", { class: "wide-only" }, verdict(word, position)),
    );
  // Of what bends at the bottom; a joint that is straight at a lock-out keeps no share of its bend.
  const kept = (a, b) => (!doc.turn && a > 0 && b > 0 ? (100 * b) / a : NaN);
  const body = h(
    "tbody",
    {},
    doc.turn_only
      ? null
      : [
          group(say("table.rom")),
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
        ],
    group(say(allLandings() ? "table.takeoff" : pairHasLandings() ? "table.bottom_takeoff" : "table.bottom")),
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
          group(say("table.support")),
          pair.support.map((c) =>
            row(
              upper(named("phase", c.phase)),
              withUnit(c.baseline, "%"),
              withUnit(c.challenge, "%"),
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
    h(
      "caption",
      { class: "sr" },
      say("table.caption", { baseline: word(pair.baseline), challenge: word(pair.challenge) }),
    ),
    head,
    body,
  );
  const reps = pair.joints[joints[0]];
  const mdc = doc.mdc95_deg;
  const counts = { baseline: num(reps.baseline_reps), challenge: num(reps.challenge_reps) };
  const unzeroed = joints.some(
    (j) => pair.joints[j].baseline_zero_known === false || pair.joints[j].challenge_zero_known === false,
  );
  const sentences = [
    doc.tempo
      ? say("note.reps_of_sides", { ...counts, tempo: named("tempo", doc.tempo) })
      : doc.sides && !doc.turn_only
        ? say("note.counted", counts)
        : say("note.reps", { ...counts, easier: word(pair.baseline), harder: word(pair.challenge) }),
    say("note.smallest", { size: deg(doc.smallest_change_that_matters_deg) }),
    mdc &&
      say("note.retest", { changes: joints.map((j) => `${jointNames[j].toLowerCase()} ${deg(mdc[j])}`).join(", ") }),
    unzeroed && noZero,
  ];
  $("#smallest-note").textContent = sentences.filter(Boolean).join(" ");
}

/** Whether the pair has jumps, whose bottom in the table is that before take-off. */
const pairHasLandings = () =>
  doc.ladder.rungs.some((r) => r.cells.some((c) => c.landing && [pair.baseline, pair.challenge].includes(c.tempo)));

/** Whether all positions are read in landings, as those of hops are. */
const allLandings = () => doc.ladder.rungs.length > 0 && doc.ladder.rungs.every((r) => r.cells.every((c) => c.landing));

// The ladder and the landing.

const shortUnit = (u) => (u === "degrees" ? "°" : "%");
function cell(at, unit, position) {
  if (!at) return "–";
  const c = at.change;
  const u = shortUnit(unit);
  return [
    u === "°" ? bottomDeg(at.value, at.zero_known) : withUnit(at.value, u),
    c ? h("span", { class: "iv" }, lessWords(c.lost, c.interval95, u, position)) : null,
    c ? verdict(c.verdict, position) : null,
  ];
}

/** The easiest of the conditions in which a position lies outside of its interval. */
const firstOutside = (r) => (r.first_outside ? word(r.first_outside) : "–");

function showLadder() {
  const { rungs } = doc.ladder;
  const tempos = Object.keys(rank).filter((t) => rungs.some((r) => r.cells.some((c) => c.tempo === t)));
  $("#ladder-h").textContent = say("ladder.title", { conditions: tempos.map((t) => word(t)).join(", ") });
  fill(
    $("#ladder"),
    h("caption", { class: "sr" }, say("ladder.caption", { easiest: word(tempos[0] || "slow") })),
    h(
      "thead",
      {},
      h(
        "tr",
        {},
        h("th", { scope: "col" }, say(allLandings() ? "head.position" : "ladder.position")),
        tempos.map((t) =>
          h(
            "th",
            { scope: "col" },
            tag(t),
            rungs.some((r) => r.cells.some((c) => c.tempo === t && c.landing))
              ? h("span", { class: "iv landing" }, say("ladder.landing"))
              : null,
          ),
        ),
        h("th", { scope: "col", class: "wide-only" }, say(doc.sides ? "ladder.first_outside" : "ladder.points_to")),
      ),
    ),
    h(
      "tbody",
      {},
      rungs.map((r) =>
        h(
          "tr",
          { data: { rung: r.position } },
          h(
            "th",
            { scope: "row" },
            jointNames[r.position] || r.position,
            h("span", { class: "iv" }, named("unit", r.unit)),
          ),
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
          h(
            "td",
            { class: "wide-only", data: { testid: `last-${r.position}` } },
            doc.sides ? firstOutside(r) : r.points_to ? named("points_to", r.points_to) : "–",
          ),
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

/** What the stills show of their clips: the athletes at those moments, in the same size. */
function viewsOf(shots) {
  const seen = [...new Set(shots.map(([clip]) => clip))].map((clip) => {
    const times = shots.filter((s) => s[0] === clip).map((s) => s[1]);
    const frames = times.map((t) => clip.motion.frameAt(t));
    return { clip, view: athleteView(clip.motion, frames), leg: legPx(clip.motion, times.at(-1)) };
  });
  if (seen.length === 2) {
    const [a, b] = seen;
    [a.view, b.view] = alike([a.clip.motion, a.view], [b.clip.motion, b.view], a.leg / b.leg);
  }
  return new Map(seen.map(({ clip, view }) => [clip, view]));
}

/** @param {Duo} duo has the videos */
function showLanding(duo) {
  const l = doc.landing;
  $("#landing-card").hidden = !l;
  if (!l) return;
  const shots = [];
  const repOf = (clip, number) => clip?.motion.reps.find((r) => r.number === number);
  const slowClip = l.slow_clip >= 0 ? clips[l.slow_clip] : null;
  const jumpClip = clips[l.jump_clip];
  const slow = repOf(slowClip, l.slow_rep);
  const jump = repOf(jumpClip, l.jump_rep);
  if (slow) shots.push([slowClip, slow.bottom_s, say("shot.slow"), say("rep.number", { rep: slow.number })]);
  if (jump)
    shots.push(
      [jumpClip, jump.bottom_s, say("shot.takeoff"), say("rep.number", { rep: jump.number })],
      [jumpClip, jump.landing_bottom_s, say("shot.landing"), say("rep.number", { rep: jump.number })],
    );
  const box = $("#stills");
  const view = viewsOf(shots);
  fill(
    box,
    shots.map(([clip, t, title, rep]) => {
      const canvas = h("canvas", { role: "img", "aria-label": say("shot.of", { shot: title, clip: clip.name, rep }) });
      duo.still(canvas, clip, t, view.get(clip), {
        skeleton: true,
        joints: true,
        values: true,
        arcs: true,
        face: $("#face-switch").checked,
      });
      return h(
        "figure",
        {},
        h("figcaption", {}, h("strong", {}, title), h("span", { class: "muted" }, `${clip.name}, ${rep}`)),
        canvas,
      );
    }),
  );
  const blocks = [
    [say("landing.against_slow"), l.against_slow],
    [say("landing.against_takeoff"), l.against_takeoff],
  ].filter((b) => b[1]);
  fill(
    $("#landing"),
    h("caption", { class: "sr" }, say("landing.caption")),
    h(
      "thead",
      {},
      h(
        "tr",
        {},
        h("th", { scope: "col" }, h("span", { class: "sr" }, say("head.joint"))),
        h("th", { scope: "col", class: "n" }, say("head.before")),
        h("th", { scope: "col", class: "n" }, say("head.landing")),
        h("th", { scope: "col", class: "n" }, say("head.lost")),
        h("th", { scope: "col", class: "wide-only" }, say("head.verdict")),
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

const shared = [
  "coach.pdf",
  "athlete.pdf",
  "report.html",
  "athlete.html",
  "sidebyside.mp4",
  "overlay.png",
  "curves.svg",
  "comparison.json",
];

function showDownloads(files) {
  const pictures = said.front.length ? ["sidebyside.mp4", "overlay.png", "curves.svg"] : []; // not made from the front
  const order = shared.filter((f) => files.includes(f) && !pictures.includes(f));
  const called = (name) => named("shared_file", name);
  fill(
    $("#downloads"),
    order.map((name) =>
      h(
        "li",
        {},
        h("span", {}, called(name)),
        h(
          "button",
          {
            type: "button",
            class: "small-btn",
            "aria-label": say("save_file", { file: called(name) }),
            data: { testid: `get-${name}` },
            on: {
              click: async (e) => {
                const b = e.target;
                const text = b.textContent;
                b.disabled = true;
                b.textContent = say("being_made");
                announce(say("file_being_made", { file: called(name) }));
                try {
                  const file = `/comparisons/${id}/files/${name}`;
                  const blur = $("#share-blur").checked ? "blur_face=1" : "";
                  if (name !== "comparison.json") await post(`/api${file}?${blur}`);
                  await save(`${file}?download=1&${blur}`, name);
                  announce(say("file_saved", { file: called(name) }));
                } catch (err) {
                  complain(err);
                }
                b.disabled = false;
                b.textContent = text;
              },
            },
          },
          say("save"),
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

load().catch((err) => {
  $("#loading").textContent = err.plain ? err.plain() : say("comparison.not_shown");
  complain(err);
});
