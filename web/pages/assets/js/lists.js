// Lists that can be searched and sorted, where they stand in the page.
import { $ } from "./dom.js";
import { say } from "./words.js";

/** Text to be searched: lower case, without accents. */
const plain = (text) => text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();

/**
 * Shows of some elements those that hold every word typed into a field, and hides groups that have none of them left.
 * @param {HTMLInputElement} input
 * @param {any[]} items
 * @param {any[]} groups what holds them, each with a heading
 */
export function searched(input, items, groups) {
  input.addEventListener("input", () => {
    const wanted = plain(input.value).split(/\s+/).filter(Boolean);
    let n = 0;
    for (const el of items) {
      // A clip is also found by its visit, an athlete by the team.
      const group = groups.find((g) => g.contains(el));
      const text = plain(`${el.textContent} ${group?.querySelector("h3, .team")?.textContent || ""}`);
      el.hidden = !wanted.every((w) => text.includes(w));
      if (!el.hidden) n++;
    }
    for (const g of groups) g.hidden = wanted.length > 0 && items.every((el) => el.hidden || !g.contains(el));
    $("#none-found").textContent = n || !wanted.length ? "" : say("find.none");
  });
}

/**
 * Sorts elements that stand beside each other.
 * @param {any[]} els
 * @param {(a: any, b: any) => number} order
 */
export function sorted(els, order) {
  for (const el of els.toSorted(order)) el.parentElement.append(el);
}
