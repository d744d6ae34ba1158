// Drawing the athlete over the picture, as the reports do: markers and dashes carry the
// same meaning as colours, and what was filled in or corrected looks different from what
// was tracked.
import { drawn, fade } from "./colours.js";
import { deg, known, range } from "./format.js";
import { drawLegs } from "./front.js";
import { bones, pointNames } from "./motion.js";
import { say } from "./words.js";

const outline = fade(drawn.under, 0.8);
const paper = drawn.line;
const ground = drawn.ground;

/** The unit of all drawing on a canvas: its shorter side over `of`, but never so small that words cannot be read. */
export const unitOf = (canvas, of) =>
  Math.max(Math.min(canvas.width, canvas.height) / of, 0.8 * (devicePixelRatio || 1));

/** The shape of a joint: triangle ankle, disc knee, square hip, diamond shoulder, triangle on its tip elbow. */
export function sign(c, kind, x, y, r, color) {
  c.beginPath();
  if (kind === "triangle") {
    c.moveTo(x, y - 1.25 * r);
    c.lineTo(x + 1.1 * r, y + 0.75 * r);
    c.lineTo(x - 1.1 * r, y + 0.75 * r);
    c.closePath();
  } else if (kind === "tip") {
    c.moveTo(x, y + 1.25 * r);
    c.lineTo(x - 1.1 * r, y - 0.75 * r);
    c.lineTo(x + 1.1 * r, y - 0.75 * r);
    c.closePath();
  } else if (kind === "square") c.rect(x - 0.9 * r, y - 0.9 * r, 1.8 * r, 1.8 * r);
  else if (kind === "diamond") {
    c.moveTo(x, y - 1.3 * r);
    c.lineTo(x + 1.3 * r, y);
    c.lineTo(x, y + 1.3 * r);
    c.lineTo(x - 1.3 * r, y);
    c.closePath();
  } else c.arc(x, y, r, 0, 2 * Math.PI);
  c.fillStyle = color;
  c.fill();
}

/**
 * Draws one frame. to maps a place of the clip's picture to the canvas; on says what is
 * drawn; picture is what the face is taken from (a video), with its own mapping; held is the
 * body as somebody drags it, instead of the one that was measured.
 */
export function drawFrame(
  c,
  motion,
  frame,
  {
    scale: s,
    dx = 0,
    dy = 0,
    on,
    unit: u,
    color = paper,
    dashed = false,
    corrected = (_name) => null,
    picture = null,
    flip = false,
    held = null,
  },
) {
  const t = motion.timeOf(frame);
  const value = (key) => (held ? held.value(key) : motion.value(key, t));
  const to = ([x, y]) => [flip ? dx - x * s : x * s + dx, y * s + dy];
  const filled = motion.filled(t);
  if (on.face) blurFace(c, motion, frame, to, s, picture);
  if (motion.a.view.front) return on.skeleton ? drawLegs(c, motion, t, to, u, color) : {};
  const at = {};
  for (const name of pointNames) {
    const p = held ? held.points[name] : motion.point(name, t);
    if (p) at[name] = to(p);
  }
  if (on.traces) traces(c, motion, t, to, u);
  if (on.skeleton) {
    c.lineCap = "round";
    for (const under of [true, false]) {
      c.strokeStyle = under ? fade(drawn.under, 0.5) : color;
      c.lineWidth = (under ? 4.2 : 2.2) * u;
      c.setLineDash((filled || dashed) && !under ? [5 * u, 4.5 * u] : []);
      for (const [a, b] of bones) {
        if (!at[a] || !at[b]) continue;
        c.beginPath();
        c.moveTo(...at[a]);
        c.lineTo(...at[b]);
        c.stroke();
      }
    }
    c.setLineDash([]);
    for (const name of ["ear", "shoulder", "elbow", "wrist", "heel", "toe"]) {
      if (!at[name]) continue;
      sign(c, "disc", ...at[name], 2.6 * u, outline);
      sign(c, "disc", ...at[name], 2 * u, color);
    }
  }
  const forward = motion.forward * (flip ? -1 : 1);
  if (on.arcs) for (const look of motion.joints) arc(c, value, look, at, u, forward);
  if (on.joints) {
    for (const look of motion.joints) {
      const place = at[look.joint];
      if (!place) continue;
      sign(c, look.sign, ...place, 5.6 * u, outline);
      sign(c, look.sign, ...place, 4.2 * u, look.color);
      if (filled) sign(c, look.sign, ...place, 2.4 * u, ground);
    }
  }
  for (const name of pointNames) {
    const p = corrected(name);
    if (!p) continue;
    const [x, y] = to(p);
    sign(c, "diamond", x, y, 6.4 * u, outline);
    sign(c, "diamond", x, y, 5 * u, paper);
    sign(c, "diamond", x, y, 2.4 * u, drawn.corrected);
  }
  if (on.values) labels(c, motion.joints, value, at, u, forward);
  return at;
}

function traces(c, motion, t, to, u) {
  const k = motion.repAt(t);
  const from =
    k >= 0 && t >= motion.reps[k].start_s && t <= motion.reps[k].end_s ? motion.reps[k].start_s : Math.max(0, t - 2);
  const step = 1 / motion.series.rate_hz;
  for (const look of motion.joints) {
    for (const under of [true, false]) {
      c.beginPath();
      c.strokeStyle = under ? fade(drawn.under, 0.5) : look.color;
      c.lineWidth = (under ? 3.4 : 1.8) * u;
      c.setLineDash(under ? [] : look.dash.map((d) => d * 0.6 * u));
      let begun = false;
      for (let x = from; x <= t + 1e-9; x += step) {
        const p = motion.point(look.joint, x);
        if (!p) {
          begun = false;
          continue;
        }
        if (begun) c.lineTo(...to(p));
        else c.moveTo(...to(p));
        begun = true;
      }
      c.stroke();
    }
  }
  c.setLineDash([]);
}

/** The angle as a wedge between its zero line (dashed) and the limb, built from the value that is printed. */
function arc(c, angleOf, look, at, u, forward) {
  const limb = at[look.limb];
  const p = at[look.joint];
  const value = angleOf(look.key);
  if (!p || !limb || !known(value)) return;
  const turn = look.turn * forward;
  const end = Math.atan2(limb[1] - p[1], limb[0] - p[0]);
  const zero = end - (turn * value * Math.PI) / 180;
  const r = ({ ankle: 34, elbow: 22 }[look.joint] || 26) * u;
  const back = turn * value < 0;
  c.beginPath();
  c.moveTo(...p);
  c.arc(...p, r, zero, end, back);
  c.closePath();
  c.globalAlpha = 0.38;
  c.fillStyle = look.color;
  c.fill();
  c.globalAlpha = 1;
  for (const [width, color] of [
    [3.4 * u, outline],
    [1.8 * u, look.color],
  ]) {
    c.lineWidth = width;
    c.strokeStyle = color;
    c.beginPath();
    c.arc(...p, r, zero, end, back);
    c.stroke();
    c.beginPath();
    c.setLineDash(color === outline ? [] : [2.5 * u, 3 * u]);
    c.moveTo(...p);
    c.lineTo(p[0] + Math.cos(zero) * r * 1.25, p[1] + Math.sin(zero) * r * 1.25);
    c.stroke();
    c.setLineDash([]);
  }
}

/** The values beside the joints: in front of knee and elbow, behind the others. */
function labels(c, joints, angleOf, at, u, forward) {
  const boxes = [];
  const w0 = c.canvas.width;
  const h0 = c.canvas.height;
  for (const look of joints) {
    const p = at[look.joint];
    const before = look.joint === "knee" || look.joint === "elbow";
    if (!p) continue;
    const text = `${look.short} ${deg(angleOf(look.key))}`;
    c.font = `700 ${12.5 * u}px system-ui, sans-serif`;
    const w = c.measureText(text).width + 15 * u;
    const h = 19 * u;
    const side = before ? forward : -forward;
    const gap = (before ? 32 : look.joint === "ankle" ? 22 : 14) * u;
    let x = side > 0 ? p[0] + gap : p[0] - gap - w;
    let y = p[1] - h / 2 - (before ? 0 : look.joint === "ankle" ? 4 : 6) * u;
    x = Math.max(3 * u, Math.min(w0 - 3 * u - w, x));
    y = Math.max(3 * u, Math.min(h0 - 3 * u - h, y));
    for (const b of boxes)
      if (x < b.x + b.w && x + w > b.x && y < b.y + b.h + 2 * u && y + h > b.y - 2 * u) y = b.y - h - 3 * u;
    boxes.push({ x, y, w, h });
    c.fillStyle = outline;
    c.beginPath();
    c.roundRect(x, y, w, h, 4 * u);
    c.fill();
    c.fillStyle = look.color;
    c.fillRect(x, y + 2 * u, 3 * u, h - 4 * u);
    c.fillStyle = paper;
    c.textBaseline = "middle";
    c.fillText(text, x + 8 * u, y + h / 2 + 0.5 * u);
  }
}

const small = document.createElement("canvas");

/** Makes the face unrecognisable: the picture there in a few coarse blocks. */
export function blurFace(c, motion, frame, to, s, picture) {
  const head = motion.head(frame);
  if (!head) return;
  const [x, y] = to([head.x, head.y]);
  const r = head.r * s;
  c.save();
  c.beginPath();
  c.ellipse(x, y, r, r * 1.15, 0, 0, 2 * Math.PI);
  c.clip();
  const grey = () => {
    c.fillStyle = drawn.blur;
    c.fillRect(x - 2 * r, y - 2 * r, 4 * r, 4 * r);
  };
  try {
    if (!picture?.videoWidth) throw new Error("no picture");
    const k = picture.videoWidth / motion.width;
    const n = 5;
    small.width = small.height = n;
    const sc = small.getContext("2d");
    sc.imageSmoothingEnabled = true;
    sc.drawImage(
      picture,
      (head.x - 1.2 * head.r) * k,
      (head.y - 1.2 * head.r) * k,
      2.4 * head.r * k,
      2.4 * head.r * k,
      0,
      0,
      n,
      n,
    );
    grey();
    c.imageSmoothingEnabled = true;
    c.drawImage(small, 0, 0, n, n, x - 1.2 * r, y - 1.2 * r, 2.4 * r, 2.4 * r);
  } catch {
    grey();
  }
  c.restore();
}

/** The support point along a foot's length, as a strip on the picture; footY is how far down it the feet come. */
export function supportStrip(c, motion, frame, u, footY) {
  if (!motion.hasSupport) return;
  const { pct, ends } = motion.support(motion.timeOf(frame));
  const w0 = c.canvas.width;
  const h0 = c.canvas.height;
  const h = 34 * u;
  const w = Math.min(w0 - 24 * u, 300 * u);
  const x0 = (w0 - w) / 2;
  // At the foot of the picture, unless the athlete's feet are there.
  const low = h0 - h - 6 * u;
  const y0 = footY > low - 12 * u ? 6 * u : low;
  c.fillStyle = outline;
  c.beginPath();
  c.roundRect(x0 - 10 * u, y0, w + 20 * u, h, 5 * u);
  c.fill();
  const left = motion.forward < 0;
  const at = (p) => x0 + 34 * u + ((left ? 100 - p : p) / 100) * (w - 68 * u);
  const [lo, hi] = motion.a.support_band_pct || [25, 75];
  const y = y0 + 12 * u;
  c.fillStyle = drawn.strip;
  c.fillRect(Math.min(at(0), at(100)), y - 3 * u, Math.abs(at(100) - at(0)), 6 * u);
  c.fillStyle = drawn.stripMiddle;
  c.fillRect(Math.min(at(lo), at(hi)), y - 3 * u, Math.abs(at(hi) - at(lo)), 6 * u);
  c.fillStyle = paper;
  c.font = `600 ${10.5 * u}px system-ui, sans-serif`;
  c.textBaseline = "middle";
  c.textAlign = "center";
  c.fillText(say("overlay.heel"), at(0) + (left ? 20 : -20) * u, y);
  c.fillText(say("overlay.toe"), at(100) + (left ? -17 : 17) * u, y);
  if (known(pct)) {
    const p = Math.max(-12, Math.min(112, pct));
    c.strokeStyle = paper;
    c.lineWidth = 1.6 * u;
    c.beginPath();
    c.moveTo(at(known(ends[0]) ? ends[0] : p), y);
    c.lineTo(at(known(ends[1]) ? ends[1] : p), y);
    c.stroke();
    sign(c, "diamond", at(p), y, 5.4 * u, ground);
    sign(c, "diamond", at(p), y, 4.2 * u, paper);
  }
  c.fillStyle = paper;
  const place = String(Math.round(pct));
  const text = !known(pct)
    ? say("overlay.support_unknown")
    : ends.every(known)
      ? say("overlay.support_within", { pct: place, ends: range(ends[0], ends[1]) })
      : say("overlay.support", { pct: place });
  c.fillText(text, x0 + w / 2, y0 + 25.5 * u);
  c.textAlign = "start";
}
