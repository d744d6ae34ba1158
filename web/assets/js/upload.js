// Sending a clip in pieces, so that a broken connection costs one piece and not the clip.
import { Problem, call, post, problemOf } from "./api.js";

const pieceBytes = 4 << 20;
const patience = [1, 2, 4, 8, 15, 30]; // seconds between tries

const rest = (s, signal) => new Promise((resolve, reject) => {
  const stop = () => { clearTimeout(timer); reject(new DOMException("stopped", "AbortError")); };
  const timer = setTimeout(() => { signal?.removeEventListener("abort", stop); resolve(); }, s * 1000);
  signal?.addEventListener("abort", stop, { once: true });
});

/** Whether trying again later can help. */
const passing = (err) => err instanceof Problem && (err.status === 0 || err.status === 409 || err.status === 503);

/**
 * Sends one file. progress is called with (bytes sent, note), a note being what it
 * waits for. Resolves with the server's answer {clips: [{id, name, known, job}]}.
 */
export async function upload(file, fields, { progress, signal }) {
  let begun;
  for (let tries = 0; ; tries++) {
    try {
      begun = await post("/api/uploads", { name: file.name, size: file.size, ...fields }, { signal });
      break;
    } catch (err) {
      if (!passing(err) || tries >= patience.length) throw err;
      progress(0, "waiting for the server");
      await rest(patience[tries], signal);
    }
  }
  const url = `/api/uploads/${begun.id}`;
  let over = false; // arrived or refused: then there is nothing to give up
  signal?.addEventListener("abort", () => { if (!over) call("DELETE", url).catch(() => {}); }, { once: true });
  let offset = 0, tries = 0;
  for (;;) {
    try {
      const answer = await send(url, file.slice(offset, offset + pieceBytes), offset, signal, (n) => progress(offset + n, ""));
      if (answer.clips) {
        over = true;
        return answer;
      }
      ({ offset } = answer);
      tries = 0;
    } catch (err) {
      if (!passing(err) || tries >= patience.length) {
        over = err.name !== "AbortError" && err.status !== 0;
        throw err;
      }
      progress(offset, "the connection broke: trying again");
      await rest(patience[tries++], signal);
      // The server says how much of the clip has arrived.
      const there = await call("GET", url, undefined, { signal }).catch((e) => { if (!passing(e)) throw e; return null; });
      if (there) ({ offset } = there);
    }
  }
}

/** Sends one piece; XMLHttpRequest, since fetch does not tell how much was sent. */
function send(url, piece, offset, signal, sent) {
  return new Promise((resolve, reject) => {
    const r = new XMLHttpRequest();
    r.open("PATCH", url);
    r.setRequestHeader("X-Holdfast", "1");
    r.setRequestHeader("Upload-Offset", String(offset));
    r.setRequestHeader("Content-Type", "application/octet-stream");
    r.upload.addEventListener("progress", (e) => sent(e.loaded));
    r.addEventListener("error", () => reject(new Problem(0, "the connection broke", "send the clip again")));
    r.addEventListener("abort", () => reject(new DOMException("stopped", "AbortError")));
    r.addEventListener("load", async () => {
      if (r.status >= 200 && r.status < 300) resolve(JSON.parse(r.responseText));
      else reject(await problemOf(new Response(r.responseText, { status: Math.max(200, r.status) })));
    });
    signal?.addEventListener("abort", () => r.abort(), { once: true });
    r.send(piece);
  });
}
