// The list of athletes.
import { post } from "./api.js";
import { readAthlete } from "./athlete_form.js";
import { $, complain } from "./dom.js";

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
