// The page of a comparison.
import { call, get, post, save } from "./api.js";
import { showCurves } from "./comparison_curves.js";
import { startDuo } from "./comparison_duo.js";
import { nameSides, rank, tag, word } from "./comparison_sides.js";
import { $, complain, fill, focused, h, say } from "./dom.js";
import { still } from "./duo.js";
import { bottomDeg, deg, known, noZero, num } from "./format.js";
import { Motion } from "./motion.js";
import { estimate, jointNames, lessWords, verdict } from "./signs.js";

const id = $("#comparison-page").dataset.comparison;
const joints = ["ankle", "knee", "hip"];
/** @import { Comparison, MeasuredClip, Pair } from "api" */

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
  startDuo(doc, clips, pair, showLanding);
}

/** The pair that tells most: the easiest baseline against the hardest challenge. */
function headline() {
  return [...doc.pairs].sort((a, b) => rank[a.baseline] - rank[b.baseline] || rank[b.challenge] - rank[a.challenge])[0];
}

function showSentences() {
  fill(
    $("#sentences"),
    said.headlines.map((line) =>
      h(
        "li",
        { class: `j-${line.joint}`, data: { joint: line.joint } },
        h("strong", {}, line.lead),
        h("span", {}, line.change),
      ),
    ),
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
  showCurves(pair);
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

load().catch((err) => {
  $("#loading").textContent = err.plain ? err.plain() : "The comparison cannot be shown.";
  complain(err);
});
