// Numbers, dates and times as the reader writes them, with units and a real minus sign.
import { say } from "./words.js";

const locale = navigator.languages?.length ? [...navigator.languages] : undefined;
const formats = new Map();

function numberFormat(digits) {
  if (!formats.has(digits))
    formats.set(
      digits,
      new Intl.NumberFormat(locale, {
        numberingSystem: "latn",
        minimumFractionDigits: digits,
        maximumFractionDigits: digits,
      }),
    );
  return formats.get(digits);
}

export const known = (x) => typeof x === "number" && Number.isFinite(x);

/** A number with so many decimals; a dash when it is not known. */
export function num(x, digits = 0) {
  if (!known(x)) return "–";
  const zero = Math.abs(x) < 0.5 * 10 ** -digits ? 0 : x; // no minus before a zero
  return numberFormat(digits)
    .format(zero)
    .replace(/^[\u200e\u061c]?-/, "−");
}

const exactFormat = new Intl.NumberFormat(locale, {
  numberingSystem: "latn",
  maximumFractionDigits: 2,
  useGrouping: false,
});

/** A number that somebody typed, with the decimals they gave. */
export const exact = (x) => (known(x) ? exactFormat.format(x) : "");

const decimalSign = exactFormat.format(0.5).replace(/\d/g, "");

/** A text of the archive with its decimals as the reader writes them. */
export const localText = (text) => text.replace(/(\d)\.(\d)/g, `$1${decimalSign}$2`);

export const deg = (x, digits = 0) => (known(x) ? `${num(x, digits)}°` : "–");

/** The angle of a position: marked where the clip shows no standing to count from. */
export const bottomDeg = (x, zeroKnown) => deg(x) + (known(x) && zeroKnown === false ? "†" : "");
export const noZero = say("no_zero");

/** A number with its unit: degrees sit close, everything else after a space. */
export function withUnit(x, unit, digits = 0) {
  if (!known(x)) return "–";
  return unit.startsWith("°") ? num(x, digits) + unit : `${num(x, digits)} ${unit}`;
}

/** Half of the 95 % interval of a number with this standard deviation, 0 where that is not known:
 * for documents that keep the deviation of a sample or a time and not its interval. */
export const half95 = (sd) => (known(sd) ? 1.96 * sd : 0);

/** "6 to 12", the ends of an interval. */
export function range(lo, hi, digits = 0) {
  return known(lo) && known(hi) ? say("range", { lo: num(lo, digits), hi: num(hi, digits) }) : "";
}

/** "in 3 s", "2 min 5 s". */
export function duration(s) {
  if (!known(s)) return "";
  const all = Math.max(0, Math.round(s));
  const min = Math.floor(all / 60);
  const h = Math.floor(min / 60);
  if (h) return say("duration.hours", { hours: num(h), minutes: num(min % 60) });
  const seconds = num(all % 60);
  if (!min) return say("duration.seconds", { seconds });
  return all % 60
    ? say("duration.both", { minutes: num(min), seconds })
    : say("duration.minutes", { minutes: num(min) });
}

export function bytes(n) {
  if (!known(n)) return "";
  if (n >= 1e9) return `${num(n / 1e9, 1)} GB`;
  if (n >= 1e6) return `${num(n / 1e6, n < 1e7 ? 1 : 0)} MB`;
  return `${num(Math.max(1, n / 1e3))} kB`;
}

const dateFormat = new Intl.DateTimeFormat(locale, { dateStyle: "medium", timeZone: "UTC" });
const momentFormat = new Intl.DateTimeFormat(locale, { dateStyle: "medium", timeStyle: "short" });

/** A date (2025-05-02) as the reader writes it. */
export function date(iso) {
  const d = new Date(iso.length === 10 ? `${iso}T00:00:00Z` : iso);
  return Number.isNaN(d.getTime()) ? iso : dateFormat.format(d);
}

/** A moment in the reader's time zone. */
export function moment(iso) {
  const d = new Date(iso);
  return Number.isNaN(d.getTime()) ? iso : momentFormat.format(d);
}

/** A moment's day as 2025-05-02 in the reader's time zone. @param {number} ms since 1970 */
export function localDay(ms) {
  const d = new Date(ms);
  const two = (n) => String(n).padStart(2, "0");
  return `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())}`;
}

/** Today in the same form. */
export const today = () => localDay(Date.now());

/** Reads a number that a person typed, with a point or a comma; NaN when it is none, null when empty. */
export function parse(text) {
  const t = text
    .trim()
    .replace(/[\s\u200e\u200f\u061c]/g, "")
    .replace("−", "-")
    .replace(",", ".");
  if (t === "") return null;
  return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(t) ? Number(t) : NaN;
}

/** Writes dates and numbers that the server sent as the reader does. */
export function localise(root) {
  for (const el of root.querySelectorAll("time[datetime]")) {
    el.textContent = el.dataset.as === "date" ? date(el.getAttribute("datetime")) : moment(el.getAttribute("datetime"));
  }
  for (const el of root.querySelectorAll("data.num")) {
    const x = Number(el.getAttribute("value"));
    const digits = Number(el.dataset.digits || 0);
    if (Number.isFinite(x)) el.textContent = digits ? exact(x) : num(x);
  }
}

/** A text with its first letter large. @param {string} text */
export const upper = (text) => (text ? text[0].toUpperCase() + text.slice(1) : text);

/** "a, b and c". @param {string[]} items */
export const list = (items) =>
  items.length < 2
    ? items.join("")
    : say("list.last", {
        before: items.slice(0, -1).reduce((before, next) => say("list.next", { before, next })),
        last: items.at(-1),
      });
