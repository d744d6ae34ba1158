// The page of one clip: the picture with its overlay, the curves, the measures.
import { call, follow, get, post } from "./api.js";
import { Correcting } from "./correct.js";
import { athleteView, wholeView } from "./crop.js";
import { Curves } from "./curves.js";
import { $, $$, announce, complain, fill, h, toast } from "./dom.js";
import { bytes, num, parse, range } from "./format.js";
import { startJoined } from "./joined.js";
import { Marks } from "./marks.js";
import { showAnswer, showMeasures, showQuality } from "./measures.js";
import { Motion } from "./motion.js";
import { drawFrame, supportStrip, unitOf } from "./overlay.js";
import { showPart, startPart } from "./part.js";
import { Player } from "./player.js";
import { Queue } from "./queue.js";
import { readSetting } from "./setting.js";
import { repTempo, tempo } from "./signs.js";
import { showTrim, startTrim } from "./trim.js";
import { named, say, speakOf } from "./words.js";

const id = $("#clip-page").dataset.clip;
startJoined(id);
const video = $("#video");
const canvas = $("#overlay");
const screen = $("#screen");
const scrub = $("#scrub");
const on = Object.fromEntries($$("#switches input").map((i) => [i.value, i.checked]));

/** @import { ClipAnswer, Frames, JobView } from "api" */

/** What the page knows; the parts share it. */
const page = {
  /** @type {string} */
  id,
  /** @type {ClipAnswer} */
  info: null,
  /** @type {JobView[]} */
  jobs: [],
  /** @type {Frames} */
  frames: null,
  fit: fitScreen,
  /** @type {Motion} */
  motion: null,
  /** @type {import("./crop.js").View} */
  view: null, // the part of the picture that is shown
  on,
  /** @type {Player} */
  player: null,
  /** @type {Curves} */
  curves: null,
  /** @type {Correcting} */
  correcting: null,
  /** @type {Marks} */
  marks: null,
  draw,
  refresh,
  load,
};

// Loading.

async function load() {
  page.info = await get(`/api/clips/${id}`);
  const measured = Boolean(page.info.clip.result);
  $("#waiting").hidden = measured;
  if (!measured) return;
  const [analysis, frames] = await Promise.all([
    get(`/api/clips/${id}/analysis`),
    page.frames || get(`/api/clips/${id}/frames`),
  ]);
  speakOf(analysis.movement?.turn);
  page.frames = frames; // the network's points never change
  page.motion = new Motion(analysis, frames);
  page.view ??= athleteView(page.motion);
  show();
}

function show() {
  const { motion, info } = page;
  const a = motion.a;
  $("#measured").hidden = false; // not before there is something to show: what fits the picture would move it
  fill($("#clip-tempos"), [
    ...new Map(a.reps.filter((r) => !r.partial).map((r) => [repTempo(r), tempo(r.tempo, repTempo(r))])).values(),
  ]);
  fitScreen();
  if (!page.player) start();
  else page.player.times = motion.times;
  showTrim(page);
  showPart(page);
  page.curves ??= new Curves({
    angles: $("#angles-chart"),
    support: $("#support-chart"),
    keys: $("#keys"),
    seek: (t) => {
      page.player.pause();
      page.player.seek(motion.frameAt(t));
    },
    changed: (rep, key, t) => page.correcting.setTime(rep, key, t),
  });
  page.curves.show(motion);
  for (const part of [
    "#angles-chart",
    "#support-chart",
    "#support-title",
    "#support-now",
    "#keys",
    "#curve-help",
    "#curves-h",
  ])
    $(part).hidden = Boolean(a.view.front); // the front shows none of them
  for (const part of ["#support-title", "#support-now", "#curve-help", "#loop", "#measures-help"])
    $(part).hidden ||= Boolean(a.plain); // there are no reps, and nothing is told of the foot
  showReps();
  showAnswer($("#clip-answer"), a);
  showMeasures($("#measures"), a);
  showQuality($("#quality"), a);
  showDownloads(info);
  page.correcting ??= new Correcting(page);
  page.correcting.show();
  page.marks ??= new Marks(page);
  wanted(page.player.frame);
  draw();
  $("#correct-toggle").disabled = $("#correct-toggle").hidden = false;
  fitScreen(); // what stands above and under the picture has its text by then
  draw();
  showVideo(info);
}

/**
 * @typedef {typeof page} ClipPage
 */

/** The page's video comes a little after the numbers. */
function showVideo(info) {
  const there = info.files.some((f) => f.name === "web.mp4");
  $("#video-wait").hidden = there;
  if (there && !video.src) video.src = `/clips/${id}/video`;
}

let late;
/** Loads what changed once nobody has hold of a point or a handle, which would be lost. */
function refreshSoon() {
  clearTimeout(late);
  if (page.correcting?.held || page.curves?.held) late = setTimeout(refreshSoon, 500);
  else refresh();
}

/** Loads what changed and keeps the frame and the rep. */
async function refresh() {
  try {
    await load();
  } catch (err) {
    if (err.status === 404) location.assign(`/athletes/${$("#clip-page").dataset.athlete}`);
    else complain(err);
  }
}

// The picture.

function fitScreen() {
  const { w: width, h: height } = page.view;
  $("#clip-grid").classList.toggle("wide", width > height); // before the room is asked for
  // The buttons that jump stand where there is room: beside an upright picture, under a
  // wide one, and on a phone under every picture.
  const home = width > height || innerWidth <= 900 ? $("#video-jumps") : $("#curves-jumps");
  if ($("#jumps").parentElement !== home) home.append($("#jumps"));
  const room = screen.parentElement.clientWidth - 2 * parseFloat(getComputedStyle(screen.parentElement).paddingLeft);
  // On a phone the tools for correcting stand right under the picture, and both are to be seen.
  const tools = page.correcting?.on && innerWidth <= 900;
  if (tools && $("#correct-point").parentElement !== $("#video-tools")) $("#video-tools").append($("#correct-point"));
  if (!tools && $("#correct-point").parentElement === $("#video-tools"))
    $("#correct-grid").prepend($("#correct-point"));
  const box = screen.getBoundingClientRect();
  const full = document.fullscreenElement !== null;
  // The slider and Play lie under the picture and are in view before anybody scrolls.
  const under = $("#play").getBoundingClientRect().bottom - box.bottom + 12;
  const left = innerHeight - (box.top + (full ? 0 : scrollY)) - under;
  // Where what stands above leaves no room, picture and Play fill the window once they are scrolled to.
  const most = tools
    ? innerHeight * 0.42
    : full || left >= 240
      ? left
      : Math.min(innerHeight - under, 0.6 * innerHeight);
  const w = Math.min(room, (most * width) / height);
  screen.style.width = `${Math.round(w)}px`;
  screen.style.height = `${Math.round((w * height) / width)}px`;
  const { view, motion } = page;
  video.style.width = `${(100 * motion.width) / view.w}%`;
  video.style.height = `${(100 * motion.height) / view.h}%`;
  video.style.left = `${(-100 * view.x) / view.w}%`;
  video.style.top = `${(-100 * view.y) / view.h}%`;
  canvas.dataset.view = [view.x, view.y, view.w, view.h].join(" ");
  const px = devicePixelRatio || 1;
  canvas.width = Math.round(w * px);
  canvas.height = Math.round(((w * height) / width) * px);
}
addEventListener("resize", () => {
  if (page.motion) {
    fitScreen();
    draw();
  }
});

function draw() {
  const { motion, player, correcting } = page;
  if (!motion || !player) return;
  const c = canvas.getContext("2d");
  const frame = player.picture;
  c.clearRect(0, 0, canvas.width, canvas.height);
  const { view } = page;
  const scale = canvas.width / view.w;
  const [dx, dy] = [-view.x * scale, -view.y * scale];
  const unit = unitOf(canvas, 360);
  drawFrame(c, motion, frame, {
    scale,
    dx,
    dy,
    on,
    unit,
    picture: video,
    corrected: (name) => correcting?.correctedAt(name, frame),
    held: correcting?.bent(frame),
  });
  if (on.support && !correcting?.on && !motion.a.view.front)
    supportStrip(c, motion, frame, unit, motion.footY * scale + dy);
  if (page.marks) {
    c.save();
    c.translate(dx, dy);
    page.marks.draw(c, frame, scale, unit);
    c.restore();
  }
  if (!correcting?.on) return;
  c.save();
  c.translate(dx, dy);
  correcting.draw(c, frame, scale, unit);
  c.restore();
  correcting.points.drawLoupe(c, frame, scale, unit, video);
}

video.addEventListener("error", () => {
  if (video.error?.code === MediaError.MEDIA_ERR_NETWORK) return; // the page says elsewhere that the server is away
  $("#video-wait").hidden = false;
  $("#video-wait p").textContent = say("clip.no_video");
});

for (const input of $$("#switches input"))
  input.addEventListener("change", () => {
    on[input.value] = input.checked;
    draw();
  });

// Playing and stepping.

function start() {
  const player = new Player(video, page.motion.times, {
    want: wanted,
    shown: draw,
    played: (playing) => {
      $("#play").textContent = playing ? say("play.pause") : say("play.play");
      if (!playing) tell();
    },
  });
  page.player = player;
  startTrim(page);
  startPart(page);
  scrub.addEventListener("input", () => {
    player.pause();
    player.seek(Number(scrub.value));
  });
  $("#play").addEventListener("click", () => player.toggle());
  for (const [button, n] of Object.entries({ "#back10": -10, "#back1": -1, "#on1": 1, "#on10": 10 }))
    $(button).addEventListener("click", () => step(n));
  for (const b of $$("#speeds button"))
    b.addEventListener("click", () => {
      player.rate = Number(b.dataset.rate);
      for (const o of $$("#speeds button")) o.setAttribute("aria-pressed", String(o === b));
    });
  $("#loop").addEventListener("click", () => {
    const looped = $("#loop").getAttribute("aria-pressed") !== "true";
    $("#loop").setAttribute("aria-pressed", String(looped));
    loopRep();
  });
  $("#whole").addEventListener("click", () => {
    const whole = $("#whole").getAttribute("aria-pressed") !== "true";
    $("#whole").setAttribute("aria-pressed", String(whole));
    page.view = whole ? wholeView(page.motion) : athleteView(page.motion);
    fitScreen();
    draw();
  });
  const cut = athleteView(page.motion);
  $("#whole").hidden = cut.w === page.motion.width && cut.h === page.motion.height;
  const stage = $("#stage");
  $("#full").hidden = !document.fullscreenEnabled;
  $("#full").addEventListener("click", () => {
    if (document.fullscreenElement) document.exitFullscreen();
    else stage.requestFullscreen().catch(complain);
  });
  document.addEventListener("fullscreenchange", () => {
    $("#full").setAttribute("aria-pressed", String(document.fullscreenElement !== null));
    fitScreen();
    draw();
  });
  const first = page.motion.reps[0];
  player.seek(first ? page.motion.frameAt(first.bottom_s) : 0);
}

/** Plays the rep at hand again and again, where that is wished. */
function loopRep() {
  const { motion, player } = page;
  const r = motion.reps[rep];
  const looped = $("#loop").getAttribute("aria-pressed") === "true" && r;
  player.loop = looped ? [motion.frameAt(r.start_s), motion.frameAt(r.end_s)] : null;
}

let frameNow = -1;
function wanted(frame) {
  const { motion, curves, correcting } = page;
  const t = motion.timeOf(frame);
  scrub.value = String(frame);
  const phase = motion.phaseAt(t);
  scrub.setAttribute("aria-valuetext", say("clip.at_frame", { frame: num(frame + 1), time: num(t, 2), phase }));
  $("#r-time").textContent = `${num(t, 3)} s`;
  $("#r-frame").textContent = say("clip.frame_of", { frame: num(frame + 1), frames: num(motion.times.length) });
  $("#r-phase").textContent = phase;
  canvas.dataset.frame = String(frame);
  const s = motion.support(t);
  $("#support-now").textContent = Number.isFinite(s.pct)
    ? `${num(s.pct)} %${s.ends.every(Number.isFinite) ? ` (${range(s.ends[0], s.ends[1])})` : ""}`
    : say(motion.hasSupport ? "clip.support_unknown" : "clip.support_nowhere");
  curves?.at(t);
  // Whoever has hold of a rep's edge keeps it, also when it goes into the rep before.
  const held = curves?.held ? motion.reps.findIndex((r) => r.number === curves.editing) : -1;
  markRep(held >= 0 ? held : motion.repAt(t), t);
  if (frame !== frameNow) correcting?.moved(frame);
  frameNow = frame;
}

let telling;
/** Steps some frames, and tells where once no other step follows. */
function step(n) {
  page.player.step(n);
  clearTimeout(telling);
  telling = setTimeout(tell, 400);
}

/** Tells a screen reader where the picture stands. */
function tell() {
  const { motion, player } = page;
  const t = motion.timeOf(player.frame);
  const where = { frame: num(player.frame + 1), time: num(t, 2), phase: motion.phaseAt(t) };
  const values = motion.curves.map((c) => say("clip.told_angle", { angle: c.short, deg: num(motion.value(c.key, t)) }));
  announce(say("clip.told", { ...where, values: values.join(", ") }));
}

let rep = -1;
function showReps() {
  rep = -1;
  fill(
    $("#reps"),
    page.motion.reps.map((r, i) =>
      h(
        "button",
        {
          type: "button",
          "aria-pressed": "false",
          data: { rep: String(r.number), testid: "rep" },
          on: { click: () => toRep(i) },
        },
        say("rep.title", { rep: num(r.number) }),
        h("span", { class: `tempo tempo-${r.tempo} bare` }, h("i", { "aria-hidden": "true" }), repTempo(r)),
      ),
    ),
  );
  markRep(page.motion.repAt(page.motion.timeOf(page.player.frame)));
}

function markRep(i, t) {
  const { motion } = page;
  const r = motion.reps[i];
  if (i !== rep) {
    rep = i;
    // While a rep plays again and again, another one is begun by hand alone.
    if (page.player && !(page.player.playing && page.player.loop)) loopRep();
    for (const [k, b] of $$("#reps button").entries()) b.setAttribute("aria-pressed", String(k === i));
    fill(
      $("#events"),
      r
        ? motion
            .moments(r)
            .map((m) =>
              h(
                "button",
                { type: "button", data: { moment: m.key, testid: `to-${m.key}` }, on: { click: () => go(m.timeS) } },
                m.name,
              ),
            )
        : [],
    );
    page.correcting?.atRep(r);
  }
  if (r && t !== undefined) {
    const frame = motion.frameAt(t);
    for (const b of $$("#events button"))
      b.setAttribute("aria-pressed", String(motion.frameAt(r[b.dataset.moment]) === frame));
  }
}

function go(timeS) {
  page.player.pause();
  page.player.seek(page.motion.frameAt(timeS));
  tell();
}

function toRep(i) {
  const r = page.motion.reps[i];
  if (r) go(r.bottom_s);
}

/** The next moment of any rep from the frame shown, forward or back. */
function toMoment(dir) {
  const { motion, player } = page;
  const frames = [...new Set(motion.reps.flatMap((r) => motion.moments(r).map((m) => motion.frameAt(m.timeS))))].sort(
    (a, b) => a - b,
  );
  const next = dir > 0 ? frames.find((f) => f > player.frame) : frames.findLast((f) => f < player.frame);
  if (next === undefined) return;
  player.pause();
  player.seek(next);
  tell();
}

screen.addEventListener("pointerdown", () => screen.focus({ preventScroll: true }));

/** Opens and closes the list of the keys. */
function showKeys() {
  const help = $("#key-help");
  help.open = !help.open;
  if (help.open) help.scrollIntoView({ block: "nearest", behavior: "auto" });
}

addEventListener("keydown", (e) => {
  const bracket = e.key === "[" || e.key === "]"; // on many keyboards these need AltGr, which is Ctrl with Alt
  if (
    !page.player ||
    e.metaKey ||
    (!bracket && (e.ctrlKey || e.altKey)) ||
    e.defaultPrevented ||
    document.querySelector("dialog[open]")
  )
    return;
  const el = /** @type {HTMLElement} */ (e.target);
  const inField = el.matches?.("input:not([type=range]), select, textarea, [role=slider]");
  if (inField) return;
  // The keys are the picture's: elsewhere they scroll the page.
  if (e.key !== "?" && !$("#stage").contains(el)) return;
  if (e.key === " " && el.matches?.("button, a, summary")) return;
  if (el.closest?.(".scroll") && e.key.startsWith("Arrow")) return; // it scrolls
  const { player } = page;
  const many = e.shiftKey ? 10 : 1;
  const before = () => toRep(Math.max(0, rep - 1));
  const after = () => toRep(Math.min(page.motion.reps.length - 1, rep + 1));
  const act = {
    ArrowLeft: () => step(-many),
    ArrowRight: () => step(many),
    ArrowUp: () => (e.shiftKey ? before() : toMoment(-1)),
    ArrowDown: () => (e.shiftKey ? after() : toMoment(1)),
    " ": () => player.toggle(),
    Home: () => step(-Infinity),
    End: () => step(Infinity),
    "[": before,
    "]": after,
    "?": showKeys,
  }[e.key];
  if (!act) return;
  e.preventDefault();
  act();
});

// Downloads.

/** The videos that this page has asked for, with their jobs. */
const asked = new Map();

function showDownloads(info) {
  const has = new Map(info.files.map((f) => [f.name, f]));
  const at = (name) => `/clips/${id}/files/${name}?download=1`;
  const items = [];
  for (const name of ["annotated.mp4", "annotated_blurred.mp4"]) {
    const blur = name === "annotated_blurred.mp4";
    const f = has.get(name);
    const job = page.jobs.find((j) => j.id === asked.get(name));
    const failed = !f && job?.state === "failed";
    const making = !f && asked.has(name) && (!job || job.state === "waiting" || job.state === "running");
    items.push(
      h(
        "li",
        {},
        h("span", {}, named("clip_file", name), failed ? h("span", { class: "iv wrong wrap" }, job.error) : null),
        f
          ? h(
              "a",
              { class: "button small-btn", href: at(name), download: true, data: { testid: `get-${name}` } },
              say("save_size", { size: bytes(f.size_bytes) }),
            )
          : h(
              "button",
              {
                type: "button",
                class: "small-btn",
                disabled: making,
                data: { testid: `make-${name}` },
                on: {
                  click: async (e) => {
                    e.target.disabled = true;
                    try {
                      asked.set(name, (await post(`/api/clips/${id}/render${blur ? "?blur_face=1" : ""}`)).job);
                      e.target.textContent = say("being_made");
                      toast(say("clip.video_drawn"));
                    } catch (err) {
                      asked.delete(name);
                      e.target.disabled = false;
                      complain(err);
                    }
                  },
                },
              },
              making ? say("being_made") : failed ? say("job.retry") : say("clip.make"),
            ),
      ),
    );
  }
  for (const name of ["web.mp4", "series.csv", "analysis.json", "keypoints.json", "track.json.gz"]) {
    const f = has.get(name);
    if (f)
      items.push(
        h(
          "li",
          {},
          h("span", {}, named("clip_file", name)),
          h(
            "a",
            { class: "button small-btn", href: at(name), download: true, data: { testid: `get-${name}` } },
            say("save_size", { size: bytes(f.size_bytes) }),
          ),
        ),
      );
  }
  const stills = info.files.filter((f) => f.name.startsWith("frames/") && !f.name.endsWith("_close.jpg"));
  if (stills.length) {
    items.push(
      h(
        "li",
        {},
        h(
          "details",
          {},
          h("summary", {}, say("clip.frames", { n: stills.length })),
          h(
            "ul",
            { class: "downloads" },
            stills.map((f) => {
              const m = /rep(\d+)_\d_([a-z_-]+)_(\w+)\.png$/.exec(f.name);
              return h(
                "li",
                {},
                h(
                  "a",
                  { href: at(f.name), download: true },
                  m
                    ? say("clip.still", {
                        rep: num(Number(m[1])),
                        tempo: named("tempo", m[3]),
                        phase: named("still", m[2]),
                      })
                    : f.name,
                ),
                h("span", { class: "muted small" }, bytes(f.size_bytes)),
              );
            }),
          ),
        ),
      ),
    );
  }
  fill($("#downloads"), items);
}

// The clip itself: name, tempo, visit, deleting.

$("#clip-form").addEventListener("submit", async (e) => {
  e.preventDefault();
  const number = (sel) => {
    const x = parse($(sel).value);
    if (Number.isNaN(x)) {
      $(sel).setAttribute("aria-invalid", "true");
      $(sel).focus();
    } else $(sel).removeAttribute("aria-invalid");
    return x;
  };
  const load = number("#edit-load");
  const height = number("#edit-height");
  const fps = number("#edit-fps");
  if ([load, height, fps].some(Number.isNaN)) {
    toast(say("clip.type_number"), true);
    return;
  }
  const setting = readSetting();
  if (!setting) return;
  try {
    await call("PATCH", `/api/clips/${id}`, {
      movement: $("#movement").value,
      setting,
      name: $("#edit-name").value,
      athlete: $("#edit-athlete").value,
      tempo: $("#edit-tempo").value,
      date: $("#edit-date").value,
      condition: $("#edit-condition").value,
      load_kg: load,
      height_cm: height,
      capture_fps: fps,
    });
    location.reload();
  } catch (err) {
    complain(err);
  }
});
$("#clip-delete").addEventListener("click", () => {
  $("#clip-dialog").close();
  $("#delete-dialog").showModal();
});
$("#delete-yes").addEventListener("click", async () => {
  try {
    await call("DELETE", `/api/clips/${id}`);
    location.assign(`/athletes/${$("#clip-page").dataset.athlete}`);
  } catch (err) {
    complain(err);
  }
});

// What changes elsewhere: the job of this clip, a result of another window.

/** What is shown of a clip, to be compared: how far its job is comes with the events. */
const told = (info) => JSON.stringify({ ...info, job: null });

const queue = new Queue($("#jobs"), $("#no-jobs"), (j) => j.state === "failed" || j.state === "cancelled");
let lastJobs = "";
follow({
  jobs: ({ jobs }) => {
    const mine = jobs.filter((j) => j.clip_id === id);
    page.jobs = mine;
    if (!page.motion) {
      queue.show(mine.slice(0, 1));
      const ended = !mine.length || ["failed", "cancelled"].includes(mine[0].state);
      $("#waiting-h").textContent = ended ? say("clip.without_numbers") : say("clip.being_measured");
      $("#film-help").hidden = !ended;
      $("#film-help").open = ended;
    }
    const now = mine.map((j) => j.id + j.state).join();
    if (lastJobs && now !== lastJobs && page.motion)
      get(`/api/clips/${id}`).then((info) => {
        page.info = info;
        showDownloads(info);
        showVideo(info);
      }, complain);
    lastJobs = now;
  },
  clip: (e) => {
    if (e.id === id || e.id === "") refreshSoon();
  },
  again: () =>
    get(`/api/clips/${id}`).then((info) => {
      if (!page.correcting?.busy && told(info) !== told(page.info)) refreshSoon();
    }, refreshSoon),
});

load().catch(complain);
