// What every page does: dates and numbers in the reader's manner, logging out, dialogs.
import { post, unfollow } from "./api.js";
import { $, $$, complain } from "./dom.js";
import { localise } from "./format.js";

localise(document);

const logout = $("#logout");
if (logout) {
  logout.hidden = false;
  logout.addEventListener("click", () => {
    unfollow();
    post("/api/logout").then(() => location.assign("/login"), complain);
  });
}

// On a phone what is looked up now and then is folded.
const phone = matchMedia("(max-width: 560px)");
const fold = () => {
  for (const d of $$("details.fold")) /** @type {HTMLDetailsElement} */ (d).open = !phone.matches;
};
phone.addEventListener("change", fold);
if (phone.matches) fold();

// A button with data-opens shows the dialog of that id; data-closes closes the one it is in.
for (const b of $$("[data-opens]")) b.addEventListener("click", () => $(`#${b.dataset.opens}`)?.showModal());
for (const b of $$("[data-closes]")) b.addEventListener("click", () => b.closest("dialog")?.close());

// A button with data-compare compares the clips it names and shows the result.
document.addEventListener("click", async (e) => {
  const b = /** @type {HTMLButtonElement | null} */ (/** @type {HTMLElement} */ (e.target).closest?.("[data-compare]"));
  if (!b) return;
  b.disabled = true;
  try {
    const { id } = await post("/api/comparisons", { clips: b.dataset.compare.split(" "), smallest_change_deg: 5 });
    location.assign(`/comparisons/${id}`);
  } catch (err) {
    complain(err);
    b.disabled = false;
  }
});
