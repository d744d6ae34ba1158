// What the conditions of a comparison are called, and how they look.
import { tempoLook } from "./chart.js";
import { date } from "./format.js";
import { tempo } from "./signs.js";
import { named } from "./words.js";

/** @import { Comparison } from "api" */

/** From the easier to the harder. */
export const rank = { slow: 0, fast: 1, jump: 2, first: 0, second: 1, third: 2 };
// Where clips of one tempo are compared, they have the looks of the tempos of the same place.
const looks = { first: "slow", second: "fast", third: "jump" };

/** @type {Comparison["sides"]} */
let sides;

/** Takes what the sides of a comparison are called. Without sides its conditions are tempos. */
export function nameSides(/** @type {Comparison} */ doc) {
  sides = doc.sides;
}

/** What a tempo or a side is called. */
export function word(key) {
  const words = sides?.find((s) => s.key === key)?.words;
  return words ? (/^\d{4}-\d\d-\d\d$/.test(words) ? date(words) : words) : named("tempo", key);
}

/** Its name beside its sign. */
export const tag = (key) => tempo(looks[key] || key, word(key));
/** How its line is drawn on a card. */
export const lookOf = (key) => tempoLook(looks[key] || key);
