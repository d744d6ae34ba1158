// Small things that several pages write in the same way: tempos, verdicts, intervals.
import { h } from "./dom.js";
import { known, range, withUnit } from "./format.js";
import { named, positions, say } from "./words.js";

/** A tempo, or what is told apart in its place by the same signs and colours. */
export const tempo = (name, word = named("tempo", name)) =>
  h("span", { class: `tempo tempo-${name}` }, h("i", { "aria-hidden": "true" }), word);

/**
 * What the tempo of a rep is called: how quick a drop is its box says, and some reps are between slow and fast.
 * @param {{tempo: string, tempo_between?: boolean, drop?: object}} rep
 */
export const repTempo = (rep) => named("tempo", rep.drop ? "drop" : rep.tempo_between ? "between" : rep.tempo);

const marks = { held: "=", lost: "▼", gained: "▲", unclear: "?", withheld: "–", unmeasured: "–" };

/** A verdict as a mark and a word, in the words of a position if one is given. */
export function verdict(word, position) {
  if (!word) return h("span", {}, "–");
  const of = positions[position];
  return h(
    "span",
    { class: `verdict verdict-${of?.look[word] || word}`, data: { verdict: word } },
    h("span", { "aria-hidden": "true" }, marks[word] || ""),
    of?.[word] || named("verdict", word),
  );
}

/**
 * Why a rep does not count: the coach left it out, or the clip does not show all of it.
 * @param {import("api").Analysis} a
 * @param {import("api").Rep} rep
 */
export function whyPartial(a, rep) {
  return (a.corrections?.reps || []).some((e) => e.left_out && e.at_s >= rep.start_s && e.at_s <= rep.end_s)
    ? say("rep.left_out")
    : say("rep.not_whole");
}

/** A value with its interval in small type below. */
export function estimate(e, unit = "", digits = 0) {
  if (!e || !known(e.value)) return ["–"];
  const iv = e.interval95 ? range(e.interval95[0], e.interval95[1], digits) : "";
  return [withUnit(e.value, unit, digits).replace(/^–$/, "–"), iv ? h("span", { class: "iv" }, iv) : null];
}

/** The same of a value and its two ends. */
export const valued = (value, ends, unit, digits) => estimate({ value, interval95: ends }, unit, digits);

/** "9° less (6 to 12)": a change in words. lost is positive when it became less. */
export function lessWords(lost, iv, unit, position) {
  if (!known(lost)) return say("change.unknown");
  const of = positions[position];
  const [lo, hi] = lost < 0 ? [-iv[1], -iv[0]] : iv;
  const size = withUnit(Math.abs(lost), unit);
  const change =
    Math.round(Math.abs(lost)) === 0
      ? say("change.same")
      : say("change.by", { size, way: lost < 0 ? of?.more || say("change.more") : of?.less || say("change.less") });
  const ends = range(lo, hi);
  return ends ? say("change.within", { change, ends }) : change;
}

export const jointNames = Object.fromEntries(Object.entries(positions).map(([key, of]) => [key, of.name]));
