// The fields of an athlete, in the dialog for a new one and for editing.
import { $, toast } from "./dom.js";
import { num, parse } from "./format.js";
import { say } from "./words.js";

/**
 * Reads a number field; undefined when it is wrong, and then it is in focus.
 * @param {any} input
 * @param {number} lo
 * @param {number} hi
 * @param {"athlete.load" | "athlete.height"} what is wanted
 */
export function readNumber(input, lo, hi, what) {
  const x = parse(input.value);
  if (x === null || (x >= lo && x <= hi)) {
    input.removeAttribute("aria-invalid");
    return x;
  }
  input.setAttribute("aria-invalid", "true");
  input.focus();
  toast(say(what, { least: num(lo), most: num(hi) }), true);
  return undefined;
}

/** Reads the fields; null when one is wrong. */
export function readAthlete() {
  const name = $("#a-name");
  name.removeAttribute("aria-invalid");
  if (!name.value.trim()) {
    name.setAttribute("aria-invalid", "true");
    name.focus();
    toast(say("athlete.name"), true);
    return null;
  }
  const height = readNumber($("#a-height"), 80, 250, "athlete.height");
  if (height === undefined) return null;
  const year = $("#a-birth").value.trim();
  const birth = year === "" ? null : Number(year);
  if (birth !== null && !(Number.isInteger(birth) && birth >= 1900 && birth <= new Date().getFullYear())) {
    $("#a-birth").setAttribute("aria-invalid", "true");
    $("#a-birth").focus();
    toast(say("athlete.birth", { latest: new Date().getFullYear() }), true);
    return null;
  }
  $("#a-birth").removeAttribute("aria-invalid");
  return {
    name: name.value,
    height_cm: height,
    birth_year: birth,
    notes: $("#a-notes").value,
    team: $("#a-team").value,
    consent_on: $("#a-consent").value,
    keep_until: $("#a-keep").value,
  };
}
