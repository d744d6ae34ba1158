// A video that knows its frames: it stands on a frame, not at a time.
import { lastAtOrBefore, middle, nearest } from "./frames.js";

export class Player {
  /**
   * times are the file's frame times in seconds. want is called at once with the frame
   * that was asked for, shown with the frame that the picture really shows.
   */
  constructor(video, times, { want, shown, played }) {
    /** @type {HTMLVideoElement} */
    this.video = video;
    /** @type {number[]} */
    this.times = times;
    this.onWant = want;
    this.onShown = shown;
    this.onPlayed = played;
    this.frame = 0; // asked for
    this.picture = 0; // shown
    // How much later the page's video runs than the file's own clock; known from its first picture.
    this.shift = 0;
    /** @type {[number, number] | null} */
    this.range = null; // first and last frame that are shown; null: all
    this.pending = false;
    this.again = false; // another seek was asked for meanwhile
    this.due = false; // it is to play, as soon as it stands where it was sent
    /** @type {{ frame: number, take: (video: HTMLVideoElement) => void }[]} */
    this.lent = []; // frames that somebody else wants a look at
    /** @type {"" | "out" | "back"} */
    this.trip = ""; // on its way to such a frame, or back: nobody is told of what is seen
    /** @type {number[] | null} */
    this.loop = null; // first and last frame of what plays again and again
    this.counts = "requestVideoFrameCallback" in HTMLVideoElement.prototype;
    video.addEventListener("seeked", () => this.settled());
    for (const name of ["play", "pause", "ended"])
      video.addEventListener(name, () => this.onPlayed(!video.paused && !video.ended));
    video.addEventListener("pause", () => {
      if (!this.pending) this.seek(this.picture);
    });
    if (this.counts) this.watch();
    else this.poll();
    video.addEventListener("loadeddata", () => this.seek(this.frame), { once: true });
    if (video.readyState >= 2) this.seek(this.frame);
  }

  get ends() {
    return this.range || [0, this.times.length - 1];
  }

  get playing() {
    return !this.video.paused && !this.video.ended;
  }

  watch() {
    let first = true;
    const see = (_, { mediaTime }) => {
      // The first picture of all is frame 0: it tells where the video's clock begins.
      if (first && this.video.currentTime < this.times[1] - this.times[0]) this.shift = mediaTime - this.times[0];
      first = false;
      this.see(nearest(this.times, mediaTime - this.shift + 1e-4));
      this.video.requestVideoFrameCallback(see);
    };
    this.video.requestVideoFrameCallback(see);
  }

  poll() {
    const look = () => {
      if (this.playing) this.see(lastAtOrBefore(this.times, this.video.currentTime - this.shift));
      requestAnimationFrame(look);
    };
    requestAnimationFrame(look);
  }

  see(i) {
    if (this.trip) return;
    this.picture = i;
    if (this.playing && this.loop && (i >= this.loop[1] || i < this.loop[0] - 1)) {
      this.video.currentTime = middle(this.times, this.loop[0]) + this.shift;
    }
    if (this.playing && i >= this.ends[1] && i < this.times.length - 1 && !this.loop) this.video.pause();
    if (this.playing) this.frame = i;
    this.onShown(i);
    if (this.playing) this.onWant(i);
  }

  /** Goes to a frame. While one seek is under way only the last one asked for follows. */
  seek(i) {
    const [first, last] = this.ends;
    this.frame = Math.max(first, Math.min(last, i));
    this.onWant(this.frame);
    this.move();
  }

  /** Shows take a frame and comes back, so that nobody has to open the video a second time. */
  lend(frame, take) {
    this.lent.push({ frame, take });
    if (!this.playing) this.move();
  }

  move() {
    if (this.video.readyState < 1) return;
    if (this.video.seeking || this.pending) {
      this.again = true;
      return;
    }
    this.go(this.frame);
  }

  go(frame) {
    this.again = false;
    this.pending = true;
    const t = middle(this.times, frame) + this.shift;
    const end = Number.isFinite(this.video.duration) ? this.video.duration - 1e-3 : t;
    const to = Math.max(0, Math.min(t, end));
    if (Math.abs(this.video.currentTime - to) < 1e-6) {
      this.settled();
      return;
    }
    this.video.currentTime = to;
  }

  settled() {
    this.pending = false;
    if (this.trip === "out") {
      this.lent.shift()?.take(this.video);
      this.trip = "back";
      this.go(this.frame);
      return;
    }
    if (this.again) {
      this.go(this.frame);
      return;
    }
    this.trip = "";
    if (this.due) this.play();
    if (this.playing) return;
    this.see(lastAtOrBefore(this.times, this.video.currentTime - this.shift + 1e-4));
    if (this.lent.length === 0) return;
    this.trip = "out";
    this.go(this.lent[0].frame);
  }

  step(n) {
    this.pause();
    this.seek(this.frame + n);
  }

  pause() {
    this.due = false;
    if (this.playing) this.video.pause();
  }

  toggle() {
    if (this.playing || this.due) {
      this.pause();
      return;
    }
    if (this.loop && (this.frame < this.loop[0] || this.frame >= this.loop[1])) this.seek(this.loop[0]);
    else if (this.frame >= this.ends[1]) this.seek(this.ends[0]);
    // Begun while a seek is under way it plays from wherever that seek led, and may be over before the next one.
    if (this.pending) this.due = true;
    else this.play();
  }

  play() {
    this.due = false;
    this.video.play().catch(() => this.onPlayed(false));
  }

  set rate(r) {
    this.video.playbackRate = r;
  }
}
