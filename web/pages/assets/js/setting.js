// How a set was done: the folded fields of the forms that tell of clips.
import { $, $$, toast } from "./dom.js";
import { num, parse } from "./format.js";
import { say } from "./words.js";

/** Reads the fields by their keys; null when one is wrong, which is then in focus and said. */
export function readSetting() {
  const out = {};
  for (const input of $$("[data-setting]")) {
    input.removeAttribute("aria-invalid");
    const text = input.value.trim();
    if (text === "") continue;
    if (input.dataset.most === undefined) {
      out[input.dataset.setting] = text;
      continue;
    }
    const x = parse(text);
    const [least, most] = [Number(input.dataset.least), Number(input.dataset.most)];
    if (!(x >= least && x <= most)) {
      $("#setting").open = true;
      input.setAttribute("aria-invalid", "true");
      input.focus();
      const field = $(`label[for="${input.id}"]`).textContent;
      toast(say("setting.number", { field, least: num(least), most: num(most) }), true);
      return null;
    }
    out[input.dataset.setting] = x;
  }
  return out;
}
