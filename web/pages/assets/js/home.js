// The first page: choosing clips, sending them, and following the queue.
import { call, follow, get, post } from "./api.js";
import { $, $$, announce, complain, fill, focused, h, newID, toast } from "./dom.js";
import { bytes, duration, list, localDay, localise, num, parse, today } from "./format.js";
import { Guided } from "./guided.js";
import { leftWords, Queue } from "./queue.js";
import { readSetting } from "./setting.js";
import { upload } from "./upload.js";
import { named, say } from "./words.js";

const form = $("#drop-form");
const drop = $("#drop");
const files = $("#files");
const camera = $("#camera");
const athlete = $("#athlete");
const newName = $("#new-name");
const name = $("#athlete-name");
const nameError = $("#name-error");
const condition = $("#condition");
const load = $("#load");
const height = $("#height");
const day = $("#date");
const chosen = $("#chosen");
const sendRow = $("#send-row");
const send = $("#send");
let clips = []; // {file, tempo, el, state: chosen | sending | sent | failed}

day.value = day.max = today();

// The fields.

const nobody = "?";
const below = "="; // as in the fields that hold for all clips

function showFields() {
  newName.hidden = athlete.value !== "";
  $("#load-field").hidden = condition.value !== "loaded";
}
athlete.addEventListener("change", () => {
  showFields();
  height.value = athlete.selectedOptions[0]?.dataset.height || "";
  if (!newName.hidden) name.focus();
});
condition.addEventListener("change", showFields);
height.value = athlete.selectedOptions[0]?.dataset.height || "";
showFields();

function mark(input, bad) {
  if (bad) input.setAttribute("aria-invalid", "true");
  else input.removeAttribute("aria-invalid");
}

/** Reads the fields; null when one is wrong, which is then in focus. */
function fields() {
  const wrong = (input, text) => {
    mark(input, true);
    input.focus();
    toast(text, true);
    return null;
  };
  for (const i of [athlete, name, load, height, day]) mark(i, false);
  nameError.hidden = true;
  const f = { date: day.value, condition: condition.value };
  const open = clips.filter((c) => c.state === "chosen" || c.state === "failed");
  const needed = !open.length || open.some((c) => c.athlete.value === below);
  if (athlete.value && athlete.value !== nobody) f.athlete = athlete.value;
  else if (!athlete.value && name.value.trim()) f.athlete_name = name.value.trim();
  else if (athlete.value && needed) return wrong(athlete, say("home.whose"));
  else if (needed) {
    nameError.hidden = false;
    nameError.textContent = say("home.name_first");
    mark(name, true);
    name.focus();
    return null;
  }
  if (!day.value) return wrong(day, say("home.which_day"));
  if (condition.value === "loaded") {
    const kg = parse(load.value);
    if (kg === null || !(kg >= 0 && kg <= 500)) return wrong(load, say("home.load", { least: num(0), most: num(500) }));
    f.load_kg = kg;
  }
  const cm = parse(height.value);
  if (cm !== null && !(cm >= 80 && cm <= 250))
    return wrong(height, say("home.height", { least: num(80), most: num(250) }));
  if (cm !== null) f.height_cm = cm;
  f.movement = $("#movement").value;
  f.setting = readSetting();
  if (!f.setting) return null;
  return f;
}

// A field that is being put right is no longer called wrong.
for (const i of [athlete, name, load, height, day])
  i.addEventListener("input", () => {
    mark(i, false);
    if (i === name) nameError.hidden = true;
  });

// Choosing.

let dayGiven = false; // by the coach, for all clips
day.addEventListener("input", () => {
  dayGiven = true;
  for (const c of clips) c.day.value = day.value;
});

/** Why a file is not taken; null when it is. */
function refused(file) {
  const max = Number(form.dataset.maxBytes);
  if (file.type && !file.type.startsWith("video/")) return say("home.no_video", { file: file.name });
  if (file.size === 0) return say("home.empty", { file: file.name });
  if (max && file.size > max) return say("home.too_large", { file: file.name, most: bytes(max) });
  return null;
}

function add(list) {
  const why = [...list].map(refused).filter(Boolean);
  if (why.length) toast(why.join(" "), true);
  for (const file of list) {
    if (refused(file)) continue;
    if (clips.some((c) => c.state !== "sent" && c.file.name === file.name && c.file.size === file.size)) continue;
    const clip = { file, state: "chosen" };
    clip.el = row(clip);
    clips.push(clip);
    chosen.append(clip.el);
    if (!dayGiven) day.value = clip.day.value;
  }
  showChosen();
}

function row(clip) {
  const id = newID("tempo");
  // A name that says the tempo is a good first guess only for the eye: the program finds it by itself.
  clip.tempo = h(
    "select",
    { id, data: { testid: "tempo" } },
    h("option", { value: "" }, say("home.found")),
    ["slow", "fast", "jump"].map((t) => h("option", { value: t }, named("tempo", t))),
  );
  clip.bar = h("progress", {
    max: clip.file.size,
    value: 0,
    "aria-label": say("home.sending", { file: clip.file.name }),
    hidden: true,
  });
  clip.note = h("span", { class: "muted small" }, bytes(clip.file.size));
  clip.drop = h(
    "button",
    {
      type: "button",
      class: "small-btn",
      "aria-label": say("home.remove_file", { file: clip.file.name }),
      on: { click: () => remove(clip) },
    },
    say("home.remove"),
  );
  ownFields(clip);
  return h(
    "li",
    { data: { testid: "chosen-clip" } },
    thumbnail(clip.file),
    h("span", { class: "name", title: clip.file.name }, clip.file.name, " ", clip.note),
    h("span", { class: "row" }, h("label", { for: id, class: "small" }, say("tempo_field")), clip.tempo),
    clip.drop,
    clip.bar,
    h(
      "details",
      { class: "own" },
      h("summary", { class: "small" }, say("home.its_own")),
      h("div", { class: "fields" }, clip.athlete, clip.day, clip.condition),
    ),
  );
}

/** What may be different in one clip of many: its athlete, its day and its condition. */
function ownFields(clip) {
  const file = clip.file.name;
  const asBelow = (text) => h("option", { value: below }, text);
  clip.athlete = h(
    "select",
    { "aria-label": say("home.athlete_of", { file }), data: { testid: "own-athlete" } },
    asBelow(say("home.athlete_below")),
  );
  for (const o of athlete.options)
    if (o.value && o.value !== nobody) clip.athlete.append(h("option", { value: o.value }, o.textContent));
  const filmed = localDay(clip.file.lastModified);
  clip.day = h("input", {
    type: "date",
    "aria-label": say("home.day_of", { file }),
    data: { testid: "own-day" },
    value: dayGiven || filmed > today() ? day.value : filmed,
    max: today(),
  });
  clip.condition = h("select", { "aria-label": say("home.condition_of", { file }), data: { testid: "own-condition" } });
  clip.condition.append(asBelow(say("home.condition_below")));
  for (const o of condition.options)
    if (o.value !== "loaded") clip.condition.append(h("option", { value: o.value }, o.textContent));
}

/** The fields of one clip: those for all, with its own in their place. */
function fieldsOf(c, all) {
  const f = { ...all, tempo: c.tempo.value, date: c.day.value || all.date };
  if (c.athlete.value !== below) {
    f.athlete = c.athlete.value;
    delete f.athlete_name;
    delete f.height_cm; // that of somebody else
  }
  if (c.condition.value !== below) {
    f.condition = c.condition.value;
    delete f.load_kg;
  }
  return f;
}

const thumbPx = 56;

/** A picture out of the middle of a clip; an empty box where the browser cannot read it. */
function thumbnail(file) {
  const box = h("canvas", { class: "thumb-small", width: thumbPx, height: thumbPx, "aria-hidden": "true" });
  const video = /** @type {HTMLVideoElement} */ (document.createElement("video"));
  const url = URL.createObjectURL(file);
  const done = () => {
    URL.revokeObjectURL(url);
    video.removeAttribute("src");
  };
  Object.assign(video, { muted: true, preload: "auto", src: url });
  video.addEventListener("loadeddata", () => {
    video.currentTime = Number.isFinite(video.duration) ? video.duration / 2 : 0;
  });
  video.addEventListener("seeked", () => {
    const side = Math.min(video.videoWidth, video.videoHeight);
    const [x, y] = [(video.videoWidth - side) / 2, (video.videoHeight - side) / 2];
    box.getContext("2d").drawImage(video, x, y, side, side, 0, 0, thumbPx, thumbPx);
    box.dataset.drawn = "true";
    done();
  });
  video.addEventListener("error", done, { once: true });
  return box;
}

function remove(clip) {
  clip.stop?.abort();
  const after = clip.el.nextElementSibling || clip.el.previousElementSibling;
  clip.el.remove();
  clips = clips.filter((c) => c !== clip);
  showChosen();
  ($("button", after || document.createElement("i")) || $("#choose")).focus();
}

function showChosen() {
  const waiting = clips.filter((c) => c.state === "chosen" || c.state === "failed").length;
  sendRow.hidden = waiting === 0;
  send.textContent = say("home.measure", { n: Math.max(1, waiting) });
}

$("#choose").addEventListener("click", () => files.click());
for (const input of [files, camera])
  input.addEventListener("change", () => {
    add(input.files);
    input.value = "";
  });
if (matchMedia("(pointer: coarse)").matches) {
  // Nothing can be dropped with a finger, and the camera is at hand.
  $("#drop .lead").textContent = say("home.film_or_choose");
  $("#film").hidden = false;
  $("#film").classList.add("primary");
  $("#choose").classList.remove("primary");
  $("#choose").before($("#film"));
  $("#film").addEventListener("click", () => camera.click());
  $("#film-set").hidden = false;
  $("#choose").before($("#film-set"));
  startGuided();
}

/** A set filmed here, each clip sent while the next is filmed. */
function startGuided() {
  new Guided({
    ready: () => fields() !== null,
    send: async (file, tempo) => {
      const f = fields();
      add([file]);
      const clip = clips.find((c) => c.file === file);
      if (!f || !clip) return false;
      clip.tempo.value = tempo;
      clip.el.classList.add("of-set"); // the set tells how it gets on
      await new Promise((resolve) => {
        clip.done = resolve;
        sendAll(f);
      });
      return clip.state === "sent";
    },
  });
}

let over = 0;
const carriesFiles = (e) => [...(e.dataTransfer?.types || [])].includes("Files");
addEventListener("dragenter", (e) => {
  if (carriesFiles(e)) {
    over++;
    drop.classList.add("over");
  }
});
addEventListener("dragleave", () => {
  over = Math.max(0, over - 1);
  if (!over) drop.classList.remove("over");
});
addEventListener("dragover", (e) => {
  if (carriesFiles(e)) e.preventDefault();
});
addEventListener("drop", (e) => {
  if (!carriesFiles(e)) return;
  e.preventDefault();
  over = 0;
  drop.classList.remove("over");
  add(e.dataTransfer.files);
});
addEventListener("paste", (e) => {
  if (e.clipboardData?.files.length) add(e.clipboardData.files);
});

// Sending, one after the other: two at once would only be slower.

let sending = false;
form.addEventListener("submit", (e) => {
  e.preventDefault();
  const f = fields();
  if (f) sendAll(f);
});

/** Sends all that was chosen. */
async function sendAll(f) {
  for (const c of clips)
    if (c.state === "chosen" || c.state === "failed") Object.assign(c, { state: "waiting", fields: fieldsOf(c, f) });
  showChosen();
  if (sending) return;
  sending = true;
  try {
    const next = () => clips.find((x) => x.state === "waiting");
    for (let c = next(); c; c = next()) await sendOne(c);
  } finally {
    sending = false;
  }
}

// Whoever leaves while clips are on their way is asked.
addEventListener("beforeunload", (e) => {
  if (clips.some((c) => c.state === "waiting" || c.state === "sending")) e.preventDefault();
});

async function sendOne(c) {
  c.state = "sending";
  c.note.classList.remove("wrong");
  c.tempo.disabled = true;
  c.bar.hidden = false;
  c.drop.textContent = say("home.stop");
  c.stop = new AbortController();
  const began = performance.now();
  try {
    const { clips: added } = await upload(c.file, c.fields, {
      signal: c.stop.signal,
      progress: (n, note, kept = 0) => {
        // kept: sent before this page was opened
        c.bar.value = n;
        const s = (performance.now() - began) / 1000;
        const sent = { sent: bytes(n), of: bytes(c.file.size) };
        c.note.textContent =
          note ||
          (n > kept && s > 2
            ? say("home.sent_left", { ...sent, time: duration((c.file.size - n) / ((n - kept) / s)) })
            : say("home.sent", sent));
      },
    });
    c.state = "sent";
    if (added[0]?.known) toast(say(added[0].job ? "home.here_again" : "home.here_already", { file: c.file.name }));
    else announce(say("home.was_sent", { file: c.file.name }));
    c.el.remove();
    clips = clips.filter((x) => x !== c);
    if (c.fields.athlete_name) await chooseNew(c.fields.athlete_name);
  } catch (err) {
    if (err.name === "AbortError") {
      c.done?.();
      return;
    }
    c.state = "failed";
    c.tempo.disabled = false;
    c.bar.hidden = true;
    c.drop.textContent = say("home.remove");
    c.note.textContent = err.plain ? err.plain() : say("home.not_sent");
    c.note.classList.add("wrong");
    complain(err);
  }
  c.done?.();
  showChosen();
}

/** Puts the athlete who was just made into the list and chooses them. */
async function chooseNew(wanted) {
  const { athletes } = await get("/api/athletes").catch(() => ({ athletes: [] }));
  const a = athletes.find((x) => x.name.toLowerCase() === wanted.replace(/\s+/g, " ").toLowerCase() && !x.example);
  if (!a) return;
  if (![...athlete.options].some((o) => o.value === a.id))
    athlete.prepend(h("option", { value: a.id, data: { height: a.height_cm ?? "" } }, a.name));
  if (!athlete.value || athlete.value === nobody) athlete.value = a.id;
  for (const c of clips)
    if (c.fields?.athlete_name === wanted) {
      delete c.fields.athlete_name;
      c.fields.athlete = a.id;
    }
  showFields();
}

// The queue.

const opened = Date.now();
const recently = (j) => {
  const age = opened - Date.parse(j.created_at);
  if (j.kind === "render") return j.state === "failed" && age < 3600e3; // a finished one says nothing new
  return j.state === "failed" ? age < 24 * 3600e3 : age < 600e3;
};
/**
 * What is worth a line: of a clip's jobs of one kind the newest, so that one that was
 * tried again is not listed twice, and of those that are done the latest few: the clips
 * themselves are listed below.
 */
function worthShowing(jobs) {
  let done = 0;
  const seen = new Set();
  return jobs.filter((j) => {
    const key = j.clip_id + j.kind;
    const again = seen.has(key);
    seen.add(key);
    if (j.state === "waiting" || j.state === "running") return true;
    return !again && recently(j) && (j.state !== "done" || done++ < 3);
  });
}
const queue = new Queue($("#jobs"), $("#no-jobs"), () => true);
let known = null;

async function refresh() {
  const answer = await fetch("/recent", { credentials: "same-origin", headers: { Accept: "text/html" } }).catch(
    () => null,
  );
  if (!answer?.ok || answer.redirected) return;
  // The server wrote this with every name escaped; it holds no script, and none would run.
  const doc = new DOMParser().parseFromString(await answer.text(), "text/html");
  const had = focused()?.closest?.("#recent") ? focused() : null;
  const kept = had && (had.getAttribute("href") || had.dataset.compare);
  fill($("#recent"), [...doc.body.childNodes]);
  localise($("#recent"));
  if (kept)
    $$("#recent a, #recent button")
      .find((el) => el.getAttribute("href") === kept || el.dataset.compare === kept)
      ?.focus();
}

follow({
  open: () => {
    $("#offline").hidden = true;
  },
  error: () => {
    $("#offline").hidden = false;
  },
  jobs: ({ jobs, left_s }) => {
    $("#offline").hidden = true;
    const shown = worthShowing(jobs);
    queue.show(shown);
    showAll(shown, left_s);
    const now = jobs.map((j) => j.id + j.state).join();
    if (known !== null && known !== now) refresh();
    known = now;
  },
  clip: refresh,
  again: refresh,
});

/** What can be done with the whole queue, and how long it takes. */
function showAll(jobs, leftS) {
  const of = (...states) => jobs.filter((j) => states.includes(j.state));
  const [open, failed] = [of("waiting", "running"), of("failed", "cancelled")];
  $("#queue-left").textContent = open.length ? leftWords(leftS) : "";
  for (const [button, list, what] of [
    [$("#cancel-all"), open, "cancel"],
    [$("#retry-all"), failed, "retry"],
  ]) {
    button.hidden = list.length < 2;
    button.onclick = async () => {
      button.disabled = true;
      // The last first: cancelled from the front, each would begin before its turn to be cancelled.
      for (const j of what === "cancel" ? list.toReversed() : list) {
        await post(`/api/jobs/${j.id}/${what}`).catch((err) => {
          if (err.status !== 404 && err.status !== 409) complain(err); // it has ended meanwhile
        });
      }
      button.disabled = false;
    };
  }
}

// The example athlete, and the phone.

$("#example-load")?.addEventListener("click", async (e) => {
  e.target.disabled = true;
  try {
    const { clips: added } = await post("/api/example");
    toast(say("home.example", { clips: list(added.map((c) => c.name)) }));
    location.reload();
  } catch (err) {
    e.target.disabled = false;
    complain(err);
  }
});
$("#example-yes").addEventListener("click", async (e) => {
  e.target.disabled = true;
  try {
    await call("DELETE", "/api/example");
    location.reload();
  } catch (err) {
    e.target.disabled = false;
    complain(err);
  }
});
$("#phone")?.addEventListener("click", async () => {
  try {
    const a = await get("/api/address");
    if (!a.url) return toast(say("home.only_here"), true);
    $("#address").textContent = a.url;
    $("#fingerprint").textContent = a.fingerprint;
    $("#phone-trust").hidden = !a.fingerprint;
    $("#phone-plain").hidden = Boolean(a.fingerprint);
    $("#qr-valid").textContent = duration(a.qr_valid_s);
    $("#qr").src = `/qr.svg?${Date.now()}`; // a new code each time: it works once
    $("#qr").hidden = false;
    $("#phone-dialog").showModal();
  } catch (err) {
    complain(err);
  }
});
