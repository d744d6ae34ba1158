// Building the page: every text goes in as text, never as markup.
import { say } from "./words.js";

/** Makes an element. Props: class, data (data-*), on (listeners), everything else an attribute or a property. */
export function h(tag, props = {}, ...kids) {
  const el = document.createElement(tag);
  for (const [key, value] of Object.entries(props || {})) {
    if (value === undefined || value === null || value === false) continue;
    if (key === "class") el.className = value;
    else if (key === "data") Object.assign(el.dataset, value);
    else if (key === "on") for (const [name, f] of Object.entries(value)) el.addEventListener(name, f);
    else if (
      key === "value" ||
      key === "checked" ||
      key === "disabled" ||
      key === "hidden" ||
      key === "max" ||
      key === "min"
    )
      el[key] = value;
    else el.setAttribute(key, value === true ? "" : String(value));
  }
  el.append(...kids.flat(Infinity).filter((k) => k !== null && k !== undefined && k !== false));
  return el;
}

/** Makes an SVG element. */
export function svg(tag, attrs = {}, ...kids) {
  const el = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [key, value] of Object.entries(attrs)) el.setAttribute(key, String(value));
  el.append(...kids);
  return el;
}

/**
 * The first element that fits a selector. What kind it is stands in the templates, so the checker takes any.
 * @type {(selector: string, root?: ParentNode) => any}
 */
export const $ = (selector, root = document) => root.querySelector(selector);

/** All elements that fit. @type {(selector: string, root?: ParentNode) => any[]} */
export const $$ = (selector, root = document) => [...root.querySelectorAll(selector)];

/** The element that has the focus. */
export const focused = () => /** @type {HTMLElement | null} */ (document.activeElement);

/** Replaces what an element holds. */
export function fill(el, ...kids) {
  el.replaceChildren(...kids.flat(Infinity).filter((k) => k !== null && k !== undefined && k !== false));
}

/** Says something to a screen reader. */
export function announce(text) {
  const live = document.getElementById("live");
  if (!live) return;
  live.textContent = "";
  requestAnimationFrame(() => {
    live.textContent = text;
  });
}

/** Shows a short message; one about an error stays until it is closed or another one comes. */
export function toast(text, bad = false) {
  // What lies under an open dialog cannot be seen or reached.
  const dialog = $$("dialog[open]").at(-1);
  const box = dialog || document.getElementById("toasts");
  if (!box) return;
  if (bad) for (const old of $$(".toast.bad")) old.remove();
  const el = h(
    "div",
    {
      class: bad ? "toast bad" : "toast",
      role: bad ? "alert" : "status",
      data: { testid: bad ? "toast-bad" : "toast" },
    },
    h("p", {}, text),
    h("button", { type: "button", "aria-label": say("close_message"), on: { click: () => el.remove() } }, "×"),
  );
  box.append(el);
  dialog?.addEventListener("close", () => el.remove(), { once: true });
  if (!bad) setTimeout(() => el.remove(), 6000);
}

/** Shows what went wrong with what to do about it. */
export function complain(err) {
  toast(err?.plain ? err.plain() : say("went_wrong"), true);
  if (!err?.plain) console.error(err);
}

let unique = 0;
/** Returns an id that no element of the page has. */
export const newID = (prefix) => `${prefix}-${++unique}`;
