// What is said and what things are called: the texts of the server's catalogue.
import { catalogue } from "./catalogue.js";

/** What the turn of the movement on the page is called; see speakOf. */
let turn = "";

const plurals = new Intl.PluralRules(catalogue.language);

/** @import { Given, Kind, Texts } from "./catalogue.js" */

/**
 * A text of the catalogue. Its parameters are texts or small whole numbers: others are written by format.js first.
 * One named n chooses between the forms of a text.
 * @type {<K extends keyof Texts>(key: K, ...params: Given<K>) => string}
 */
export function say(key, ...params) {
  /** @type {Record<string, string | number>} */
  const given = { ...turnWords(), ...params[0] };
  const forms = catalogue.texts[key];
  const text = typeof forms === "string" ? forms : forms[plurals.select(Number(given.n))] || forms.other;
  return filled(text, given);
}

/**
 * What a thing of a kind is called; its own name where it has no other.
 * @param {Kind} kind
 * @param {string} name
 */
export function named(kind, name) {
  const text = (kind === "phase" && ofTurn(name)) || textOf(kind, name);
  return typeof text === "string" ? filled(text, turnWords()) : name;
}

/**
 * Says from here on what the turn of a movement is called, by its code or the coach's own word; the bottom for none.
 * @param {string} [called]
 */
export function speakOf(called) {
  turn = called || "";
}

/**
 * @param {Kind} kind
 * @param {string} name
 */
const textOf = (kind, name) => catalogue.texts[`${kind}.${name}`];

/**
 * What a phase of a movement is called whose turn is no bottom.
 * @param {string} name
 */
function ofTurn(name) {
  if (!turn) return "";
  if (name === "bottom") return turnWords().turn;
  return textOf("phase", `${turn}.${name}`) || textOf("turned", name);
}

/** @returns {Record<string, string>} */
function turnWords() {
  const text = textOf("turn", turn || "bottom");
  const called = typeof text === "string" ? text : turn;
  return { turn: called, Turn: called.charAt(0).toUpperCase() + called.slice(1) };
}

/**
 * @param {string} text
 * @param {Record<string, string | number>} given
 */
function filled(text, given) {
  return text.replace(/\{\{\.([A-Za-z_]+)\}\}/g, (_, name) => String(given[name]));
}

/**
 * positions: of each its name, the words for a clear loss and gain and how each looks (of
 * some positions less is no loss), and what a change is called. angles: the name of each.
 */
export const { positions, angles } = catalogue;
