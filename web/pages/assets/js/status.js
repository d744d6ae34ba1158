// How the work goes: what failed is tried again.
import { post } from "./api.js";
import { $$, complain } from "./dom.js";

for (const b of /** @type {HTMLButtonElement[]} */ ($$("[data-retry]"))) {
  b.addEventListener("click", async () => {
    b.disabled = true;
    try {
      await post(`/api/jobs/${b.dataset.retry}/retry`);
      location.reload();
    } catch (err) {
      complain(err);
      b.disabled = false;
    }
  });
}
