// A clip from the side and one from the front of the same set: joined, and parted again.
import { call, post } from "./api.js";
import { $, complain } from "./dom.js";

/** Lets a clip be joined and parted. @param {string} id */
export function startJoined(id) {
  /** Does it, and shows the page as it is then. @param {HTMLButtonElement} button */
  const then = (button, done) => {
    button.disabled = true;
    done.then(
      () => location.reload(),
      (err) => {
        complain(err);
        button.disabled = false;
      },
    );
  };
  const form = $("#join-form");
  form?.addEventListener("submit", (e) => {
    e.preventDefault();
    then(form.querySelector("button"), post(`/api/clips/${id}/join`, { with: $("#join-with").value }));
  });
  const part = $("#part");
  part?.addEventListener("click", () => then(part, call("DELETE", `/api/clips/${id}/join`)));
}
