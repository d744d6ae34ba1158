// Two clips that run as one: locked at the bottom of the chosen reps, one scrubber in
// seconds from there.
import { drawn } from "./colours.js";
import { alike, athleteView, legPx, wholeView } from "./crop.js";
import { drawFrame, unitOf } from "./overlay.js";
import { Player } from "./player.js";

/** @import { MeasuredClip, Rep } from "api" */

/** One half: a clip, the rep that is shown, and a video for each clip that was ever chosen. */
class Side {
  constructor(duo, name) {
    /** @type {Duo} */
    this.duo = duo;
    this.name = name;
    /** @type {Map<MeasuredClip, Player>} */
    this.players = new Map();
    /** @type {Player | undefined} */
    this.player = undefined;
    /** @type {MeasuredClip | null} */
    this.clip = null;
    /** @type {Rep | null} */
    this.rep = null;
  }

  choose(clip, rep) {
    this.player?.pause();
    this.clip = clip;
    this.rep = rep;
    this.player = this.playerOf(clip);
  }

  /** The player of a clip, made when there is none. */
  playerOf(clip) {
    if (!this.players.has(clip)) {
      const video = document.createElement("video");
      Object.assign(video, {
        muted: true,
        playsInline: true,
        preload: "auto",
        tabIndex: -1,
        src: `/clips/${clip.id}/video`,
      });
      this.duo.box.append(video);
      video.addEventListener("error", () => this.duo.onBroken?.(clip));
      const player = new Player(video, clip.motion.times, {
        want: () => {},
        shown: () => this.duo.draw(),
        played: () => {},
      });
      this.players.set(clip, player);
    }
    return this.players.get(clip);
  }

  get motion() {
    return this.clip.motion;
  }

  /** The moment of the movement at which this side is locked. */
  lock(key) {
    return Number.isFinite(this.rep[key]) && this.rep[key] !== null ? this.rep[key] : this.rep.bottom_s;
  }
}

export class Duo {
  /** box holds the videos; shown is called with the seconds from the bottom. */
  constructor({ left, right, box, shown }) {
    this.canvases = [left, right];
    this.box = box;
    this.onShown = shown;
    /** @type {((playing: boolean) => void) | undefined} */
    this.onPlayed = undefined;
    /** @type {((clip: MeasuredClip) => void) | undefined} */
    this.onBroken = undefined;
    this.key = "bottom_s";
    this.over = false;
    this.rate = 0.5;
    this.t = 0;
    this.playing = false;
    this.on = { skeleton: true, joints: true, values: true, face: false };
    this.athletes = new Map();
    this.whole = false; // the whole pictures are shown, not the athletes alone
    this.sides = [new Side(this, "left"), new Side(this, "right")];
  }

  choose(i, clip, rep) {
    this.stop();
    this.sides[i].choose(clip, rep);
    if (this.sides.every((s) => s.clip)) this.seek(this.t);
  }

  /** Draws one moment of a clip as a still on a canvas, by the video that is open already; view is what is shown. */
  still(canvas, clip, timeS, view, on) {
    const { motion } = clip;
    const frame = motion.frameAt(timeS);
    canvas.width = 480;
    canvas.height = Math.round((480 * view.h) / view.w);
    const side = this.sides.find((s) => s.players.has(clip)) || this.sides[1];
    side.playerOf(clip).lend(frame, (video) => {
      const c = canvas.getContext("2d");
      const at = placed(view, canvas.width);
      paint(c, video, motion, at);
      drawFrame(c, motion, frame, { ...at, unit: Math.min(canvas.width, canvas.height) / 280, on, picture: video });
      canvas.dataset.frame = String(frame);
    });
  }

  get ready() {
    return this.sides.every((s) => s.clip);
  }

  /** From where to where one can scrub, in seconds from the bottom. */
  get range() {
    const s = this.sides;
    const k = this.key;
    return [Math.min(...s.map((x) => x.rep.start_s - x.lock(k))), Math.max(...s.map((x) => x.rep.end_s - x.lock(k)))];
  }

  /** Where the side with more frames has them, in seconds from the frame at the lock: what a step goes to. */
  get stops() {
    const [lo, hi] = this.range;
    const of = this.sides.map((s) => {
      const lock = s.motion.timeOf(s.motion.frameAt(s.lock(this.key)));
      return s.motion.times.map((_, i) => s.motion.timeOf(i) - lock).filter((t) => t > lo && t < hi);
    });
    const all = of[1].length > of[0].length ? of[1] : of[0];
    return [lo, ...all, hi];
  }

  /** Goes n frames on, or back. */
  step(n) {
    const stops = this.stops;
    let i = stops.findLastIndex((t) => t <= this.t + 2e-3);
    if (n < 0 && this.t - stops[i] > 2e-3) i++; // between two: back means to the one before
    this.seek(stops[Math.max(0, Math.min(stops.length - 1, i + n))]);
  }

  seek(t) {
    const [lo, hi] = this.range;
    this.t = Math.max(lo, Math.min(hi, t));
    for (const s of this.sides) s.player.seek(s.motion.frameAt(s.lock(this.key) + this.t));
    this.onShown(this.t);
  }

  toggle() {
    if (this.playing) this.stop();
    else this.play();
  }

  /** Plays both; the clock is the computer's, and each video is held to it. */
  play() {
    const [lo, hi] = this.range;
    if (this.t >= hi - 0.02) this.seek(lo);
    this.playing = true;
    const t0 = this.t;
    let began = 0;
    const tick = (now) => {
      if (!this.playing) return;
      began ||= now;
      this.t = Math.min(hi, t0 + ((now - began) / 1000) * this.rate);
      for (const s of this.sides) {
        const v = s.player.video;
        const want = (s.lock(this.key) + this.t) * s.motion.factor + s.player.shift;
        const base = this.rate * s.motion.factor;
        if (want < 0 || want >= (v.duration || 0)) {
          if (!v.paused) v.pause();
          continue;
        }
        const off = want - v.currentTime;
        if (v.paused) {
          if (Math.abs(off) > 0.04 && !v.seeking) v.currentTime = want;
          v.playbackRate = Math.max(0.0625, Math.min(16, base));
          v.play().catch(() => {});
        } else if (Math.abs(off) > 0.4 && !v.seeking) v.currentTime = want;
        else v.playbackRate = Math.max(0.0625, Math.min(16, base * (1 + Math.max(-0.3, Math.min(0.3, 2 * off)))));
      }
      this.onShown(this.t);
      if (this.t >= hi) this.stop();
      else requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
    this.onPlayed?.(true);
  }

  stop() {
    if (!this.playing) return;
    this.playing = false;
    for (const s of this.sides) s.player.video.pause();
    this.seek(this.stops.reduce((a, b) => (Math.abs(b - this.t) < Math.abs(a - this.t) ? b : a)));
    this.onPlayed?.(false);
  }

  /** Draws what the videos show now. */
  draw() {
    if (!this.ready || this.sides.some((s) => s.player.trip)) return;
    const px = devicePixelRatio || 1;
    const views = this.views();
    this.sides.forEach((s, i) => {
      const canvas = this.canvases[i];
      if (this.over && i === 1) return;
      const view = views[i];
      const box = canvas.parentElement.clientWidth;
      const w = Math.min(box, ((this.over ? 640 : 560) * view.w) / view.h);
      canvas.style.width = `${Math.round(w)}px`;
      const cw = Math.round(w * px);
      const ch = Math.round(((w * view.h) / view.w) * px);
      if (canvas.width !== cw || canvas.height !== ch) {
        canvas.width = cw;
        canvas.height = ch;
      }
      const c = canvas.getContext("2d");
      const at = placed(view, cw);
      const unit = unitOf(canvas, 320);
      c.setTransform(1, 0, 0, 1, 0, 0);
      c.clearRect(0, 0, cw, ch);
      const still = s.player.video;
      if (still.readyState >= 2) paint(c, still, s.motion, at);
      if (this.over) this.layOver(c, at, unit);
      else drawFrame(c, s.motion, s.player.picture, { ...at, unit, on: { ...this.on }, picture: still });
      canvas.dataset.frame = String(s.player.picture);
      canvas.dataset.view = [view.x, view.y, view.w, view.h].map((v) => v.toFixed(1)).join(" ");
    });
    if (this.over) this.canvases[1].dataset.frame = String(this.sides[1].player.picture);
  }

  /** How many pixels of the left clip are as long as one of the right one. */
  get size() {
    const [a, b] = this.sides.map((s) => legPx(s.motion, s.lock(this.key)));
    return a / b;
  }

  /** Where the athlete of a clip is; asked for with every picture, so it is kept. */
  viewOf(motion) {
    const view = this.athletes.get(motion) || athleteView(motion);
    this.athletes.set(motion, view);
    return view;
  }

  /** What is shown of both pictures. */
  views() {
    const [a, b] = this.sides;
    if (this.whole) return [wholeView(a.motion), wholeView(b.motion)];
    const k = this.size;
    const views = alike([a.motion, this.viewOf(a.motion)], [b.motion, this.viewOf(b.motion)], k);
    if (!this.over) return views;
    // One over the other, hip on hip: all of both.
    const { flip, ax, ay, bx, by } = this.laid();
    const v = views[1];
    const left = ax + k * (flip ? bx - v.x - v.w : v.x - bx);
    const top = ay + k * (v.y - by);
    const [x, y] = [Math.min(views[0].x, left), Math.min(views[0].y, top)];
    const w = Math.max(views[0].x + views[0].w, left + k * v.w) - x;
    const h = Math.max(views[0].y + views[0].h, top + k * v.h) - y;
    return [{ x, y, w, h }, v];
  }

  /** How the right clip lies over the left one: same hip at the lock, facing the same way. */
  laid() {
    const [a, b] = this.sides;
    const hip = (s) => s.motion.point("hip", s.lock(this.key)) || [s.motion.width / 2, s.motion.height / 2];
    const [ax, ay] = hip(a);
    const [bx, by] = hip(b);
    return { flip: a.motion.forward !== b.motion.forward, ax, ay, bx, by };
  }

  /** Lays the right clip over the left one, its leg as long. */
  layOver(c, at, unit) {
    const [a, b] = this.sides;
    const k = this.size * at.scale;
    const { flip, ax, ay, bx, by } = this.laid();
    const dx = at.dx + ax * at.scale + (flip ? bx * k : -bx * k);
    const dy = at.dy + ay * at.scale - by * k;
    const video = b.player.video;
    if (video.readyState >= 2) {
      c.save();
      c.globalAlpha = 0.5;
      c.setTransform(flip ? -k : k, 0, 0, k, dx, dy);
      c.drawImage(video, 0, 0, b.motion.width, b.motion.height);
      c.restore();
    }
    if (this.on.face) {
      drawFrame(c, a.motion, a.player.picture, { ...at, unit, on: { face: true }, picture: null });
      drawFrame(c, b.motion, b.player.picture, { scale: k, dx, dy, flip, unit, on: { face: true }, picture: null });
    }
    drawFrame(c, a.motion, a.player.picture, {
      ...at,
      unit,
      on: { skeleton: this.on.skeleton, joints: this.on.joints },
    });
    drawFrame(c, b.motion, b.player.picture, {
      scale: k,
      dx,
      dy,
      flip,
      unit,
      on: { skeleton: this.on.skeleton, joints: this.on.joints },
      color: drawn.second,
      dashed: true,
    });
  }
}

/** Where a part of a picture comes to lie that fills a width. */
function placed(view, width) {
  const scale = width / view.w;
  return { scale, dx: -view.x * scale, dy: -view.y * scale };
}

/** Draws a video's picture in its place. */
function paint(c, video, motion, { scale, dx, dy }) {
  c.drawImage(video, dx, dy, motion.width * scale, motion.height * scale);
}
