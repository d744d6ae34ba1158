// What is said and what things are called: the texts of the server's catalogue.
import { catalogue } from "./catalogue.js";

const plurals = new Intl.PluralRules(catalogue.language);

/** @import { Given, Kind, Texts } from "./catalogue.js" */

/**
 * A text of the catalogue. Its parameters are texts or small whole numbers: others are written by format.js first.
 * One named n chooses between the forms of a text.
 * @type {<K extends keyof Texts>(key: K, ...params: Given<K>) => string}
 */
export function say(key, ...params) {
  /** @type {Record<string, string | number>} */
  const given = params[0] || {};
  const forms = catalogue.texts[key];
  const text = typeof forms === "string" ? forms : forms[plurals.select(Number(given.n))] || forms.other;
  return text.replace(/\{\{\.([a-z_]+)\}\}/g, (_, name) => String(given[name]));
}

/**
 * What a thing of a kind is called; its own name where it has no other.
 * @param {Kind} kind
 * @param {string} name
 */
export function named(kind, name) {
  const text = catalogue.texts[`${kind}.${name}`];
  return typeof text === "string" ? text : name;
}

/**
 * positions: of each its name, the words for a clear loss and gain and how each looks (of
 * some positions less is no loss), and what a change is called. angles: the name of each.
 */
export const { positions, angles } = catalogue;
