// The page of one athlete: the history over the visits, the contact sheet, editing.
import { call } from "./api.js";
import { readAthlete, readNumber } from "./athlete_form.js";
import { $, $$, complain, fill, h } from "./dom.js";
import { bytes, exact, list } from "./format.js";
import { loadHistory } from "./history.js";
import { startPicking } from "./picked.js";
import { say } from "./words.js";

const page = $("#athlete-page");
const id = page.dataset.athlete;

// The contact sheet.

for (const b of $$("#sheet-tabs button"))
  b.addEventListener("click", () => {
    for (const o of $$("#sheet-tabs button")) o.setAttribute("aria-pressed", String(o === b));
    for (const box of $$(".sheet-box")) box.hidden = box.dataset.sheet !== b.dataset.sheet;
  });

// Editing.

$("#athlete-form").addEventListener("submit", async (e) => {
  e.preventDefault();
  const fields = readAthlete();
  if (!fields) return;
  try {
    await call("PATCH", `/api/athletes/${id}`, fields);
    location.reload();
  } catch (err) {
    complain(err);
  }
});

let visit = null;
let sure = false;
for (const b of $$(".visit-edit"))
  b.addEventListener("click", () => {
    visit = b.dataset;
    sure = false;
    $("#v-date").value = visit.date;
    $("#v-condition").value = visit.condition;
    $("#v-load").value = visit.load ? exact(Number(visit.load)) : "";
    $("#v-notes").value = visit.notes;
    $("#visit-gone").textContent = "";
    $("#visit-delete").textContent = say("athlete.delete_visit");
    $("#visit-dialog").showModal();
  });
$("#visit-form").addEventListener("submit", async (e) => {
  e.preventDefault();
  const load = readNumber($("#v-load"), 0, 500, "athlete.load");
  if (load === undefined) return;
  try {
    await call("PATCH", `/api/visits/${visit.id}`, {
      date: $("#v-date").value,
      condition: $("#v-condition").value,
      load_kg: load,
      notes: $("#v-notes").value,
    });
    location.reload();
  } catch (err) {
    complain(err);
  }
});
$("#visit-delete").addEventListener("click", async () => {
  if (!sure) {
    sure = true;
    $("#visit-gone").textContent = say("athlete.visit_gone", { clips: say("count.clips", { n: Number(visit.clips) }) });
    $("#visit-delete").textContent = say("athlete.really");
    return;
  }
  try {
    await call("DELETE", `/api/visits/${visit.id}`);
    location.reload();
  } catch (err) {
    complain(err);
  }
});

const typed = $("#delete-name");
const same = () => typed.value.trim().replace(/\s+/g, " ") === page.dataset.name;
typed.addEventListener("input", () => {
  $("#delete-yes").disabled = !same();
});
$("#delete-form").addEventListener("submit", async (e) => {
  e.preventDefault();
  if (!same()) return;
  $("#delete-yes").disabled = true;
  try {
    const d = await call("DELETE", `/api/athletes/${id}`);
    $("#delete-dialog").close();
    const gone = [
      say("count.visits", { n: d.visits }),
      say("count.clips", { n: d.clips }),
      say("count.results", { n: d.results }),
      say("count.comparisons", { n: d.comparisons }),
      say("count.uploads", { n: d.uploads }),
      say("count.files", { n: d.files, size: bytes(d.bytes) }),
    ];
    $("#gone").textContent = say("athlete.gone", { list: list(gone) });
    $("#gone-dialog").addEventListener("close", () => location.assign("/athletes"));
    $("#gone-dialog").showModal();
  } catch (err) {
    complain(err);
    $("#delete-yes").disabled = false;
  }
});

startPicking();

loadHistory(id)
  .catch((err) => {
    fill($("#history"), h("p", { class: "muted" }, say("athlete.no_history")));
    complain(err);
  })
  .finally(() => {
    $("#history").dataset.read = ""; // what stands below is shown where it stays
  });
