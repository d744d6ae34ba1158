// The list of athletes.
import { post } from "./api.js";
import { readAthlete } from "./athlete_form.js";
import { $, $$, complain } from "./dom.js";
import { searched, sorted } from "./lists.js";

$("#athlete-form").addEventListener("submit", async (e) => {
  e.preventDefault();
  const fields = readAthlete();
  if (!fields) return;
  try {
    const { id } = await post("/api/athletes", fields);
    location.assign(`/athletes/${id}`);
  } catch (err) {
    complain(err);
  }
});

if ($("#find")) {
  searched($("#find"), $$("#athletes tr[data-athlete]"), $$("#athletes tbody"));
  const orders = {
    name: (a, b) => a.dataset.name.localeCompare(b.dataset.name),
    last: (a, b) => b.dataset.last.localeCompare(a.dataset.last),
    clips: (a, b) => Number(b.dataset.clips) - Number(a.dataset.clips),
  };
  $("#sort").addEventListener("change", () => {
    for (const team of $$("#athletes tbody")) sorted($$("tr[data-athlete]", team), orders[$("#sort").value]);
  });
}
