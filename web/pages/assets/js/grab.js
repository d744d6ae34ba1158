// Taking hold of things on the picture: by pointer on the canvas, by the buttons and arrow keys of a pad.

/**
 * A pad moves something by its buttons, and by the arrow keys while it has the focus.
 * @param {HTMLElement} pad
 * @param {(dx: number, dy: number) => void} by
 * @param {() => void} done keys pressed in a row are one change
 */
export function nudging(pad, by, done) {
  let held = false;
  pad.addEventListener("click", (e) => {
    const b = /** @type {HTMLElement} */ (e.target).closest("button");
    if (b) {
      by(Number(b.dataset.dx), Number(b.dataset.dy));
      done();
    }
  });
  pad.addEventListener("keydown", (e) => {
    const d = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
    if (!d) return;
    e.preventDefault();
    e.stopPropagation();
    held = true;
    by(d[0] * (e.shiftKey ? 10 : 1), d[1] * (e.shiftKey ? 10 : 1));
  });
  pad.addEventListener("keyup", (e) => {
    if (held && e.key.startsWith("Arrow")) {
      held = false;
      done();
    }
  });
}

/**
 * Follows a pointer that went down on a canvas.
 * @param {HTMLCanvasElement} canvas
 * @param {PointerEvent} e
 * @param {(m: PointerEvent) => void} move
 * @param {(kept: boolean) => void} end kept: it was let go of; else the browser took it away
 */
export function drag(canvas, e, move, end) {
  e.preventDefault();
  canvas.setPointerCapture(e.pointerId);
  const stop = new AbortController();
  const { signal } = stop;
  const ended = (/** @type {PointerEvent} */ m) => {
    stop.abort();
    end(m.type === "pointerup");
  };
  canvas.addEventListener("pointermove", move, { signal });
  canvas.addEventListener("pointerup", ended, { signal });
  canvas.addEventListener("pointercancel", ended, { signal });
}
