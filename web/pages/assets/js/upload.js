// Sending a clip in pieces, so that a broken connection costs one piece and not the clip.
// What has come stays with the server over a restart of it, and over this page: the same
// file chosen again is sent on from where it broke off.
import { call, Problem, post, problemOf } from "./api.js";
import { say } from "./words.js";

const pieceBytes = 4 << 20;
const patience = [1, 2, 4, 8, 15, 30]; // seconds between tries
const beginnings = 4; // of one clip, at most

/** @type {(s: number, signal?: AbortSignal) => Promise<void>} */
const rest = (s, signal) =>
  new Promise((resolve, reject) => {
    const stop = () => {
      clearTimeout(timer);
      reject(new DOMException("stopped", "AbortError"));
    };
    const timer = setTimeout(() => {
      signal?.removeEventListener("abort", stop);
      resolve();
    }, s * 1000);
    signal?.addEventListener("abort", stop, { once: true });
  });

/** Whether trying again later can help. */
const passing = (err) => err instanceof Problem && (err.status === 0 || err.status === 409 || err.status === 503);

/** The server has the beginning of another file, or none: begin from the start. */
class Anew extends Error {}

/**
 * Sends one file. progress is called with (bytes there, note, bytes of an earlier
 * sending), a note being what it waits for. Resolves with the server's answer {clips:
 * [{id, name, known, job}]}.
 */
export async function upload(file, fields, { progress, signal }) {
  let url = ""; // of what is to be given up when it is stopped
  signal?.addEventListener(
    "abort",
    () => {
      if (url) call("DELETE", url).catch(() => {});
    },
    { once: true },
  );
  for (let n = 1; ; n++) {
    const begun = await begin(file, fields, { progress, signal });
    url = `/api/uploads/${begun.id}`;
    try {
      const answer = await sendAll(url, file, begun, { progress, signal });
      url = "";
      return answer;
    } catch (err) {
      if (err instanceof Anew && n < beginnings) continue;
      if (err.name !== "AbortError" && !passing(err)) url = ""; // the server has given it up
      if (err instanceof Anew) throw new Problem(409, say("upload.too_often"), say("upload.again"));
      throw err;
    }
  }
}

async function begin(file, fields, { progress, signal }) {
  for (let tries = 0; ; tries++) {
    try {
      return await post(
        "/api/uploads",
        { name: file.name, size: file.size, last_modified: file.lastModified || 0, ...fields },
        { signal },
      );
    } catch (err) {
      if (!passing(err) || tries >= patience.length) throw err;
      progress(0, say("upload.waiting"));
      await rest(patience[tries], signal);
    }
  }
}

async function sendAll(url, file, begun, { progress, signal }) {
  const kept = await follows(url, file, begun, { progress, signal });
  let offset = kept;
  let tries = 0;
  for (;;) {
    try {
      const answer = await send(url, file.slice(offset, offset + pieceBytes), offset, signal, (n) =>
        progress(offset + n, "", kept),
      );
      if (answer.clips) return answer;
      ({ offset } = answer);
      tries = 0;
    } catch (err) {
      if (err.status === 404) throw new Anew();
      if (!passing(err) || tries >= patience.length) throw err;
      progress(offset, say("upload.broke_retry"), kept);
      await rest(patience[tries++], signal);
      // The server says how much of the clip has arrived.
      const there = await call("GET", url, undefined, { signal }).catch((e) => {
        if (e.status === 404) throw new Anew();
        if (!passing(e)) throw e;
        return null;
      });
      if (there) offset = await follows(url, file, there, { progress, signal });
    }
  }
}

/**
 * Returns from where to go on. When the server is not sure that what it has is the
 * beginning of this file, it sends a checksum of it, and all is compared.
 */
async function follows(url, file, { offset, crc32 }, { progress, signal }) {
  if (!offset || crc32 === undefined) return offset || 0;
  let sum = 0;
  for (let at = 0; at < offset; at += pieceBytes) {
    signal?.throwIfAborted();
    progress(0, say("upload.looking"));
    sum = crc(sum, new Uint8Array(await file.slice(at, Math.min(offset, at + pieceBytes)).arrayBuffer()));
  }
  if (sum === crc32) return offset;
  await call("DELETE", url, undefined, { signal }).catch((e) => {
    if (e.status !== 404) throw e;
  });
  throw new Anew();
}

const crcTable = Uint32Array.from({ length: 256 }, (_, n) => {
  for (let k = 0; k < 8; k++) n = n & 1 ? 0xedb88320 ^ (n >>> 1) : n >>> 1;
  return n;
});

/** CRC-32 (IEEE) of what was summed so far and more bytes. */
function crc(sum, data) {
  sum = ~sum;
  for (let i = 0; i < data.length; i++) sum = crcTable[(sum ^ data[i]) & 255] ^ (sum >>> 8);
  return ~sum >>> 0;
}

/** Sends one piece; XMLHttpRequest, since fetch does not tell how much was sent. */
function send(url, piece, offset, signal, sent) {
  return new Promise((resolve, reject) => {
    const broke = () => reject(new Problem(0, say("upload.broke"), say("upload.again")));
    const r = new XMLHttpRequest();
    r.open("PATCH", url);
    r.setRequestHeader("X-Holdfast", "1");
    r.setRequestHeader("Upload-Offset", String(offset));
    r.setRequestHeader("Content-Type", "application/octet-stream");
    r.upload.addEventListener("progress", (e) => sent(e.loaded));
    r.addEventListener("error", broke);
    r.addEventListener("abort", () => reject(new DOMException("stopped", "AbortError")));
    r.addEventListener("load", async () => {
      if (r.status < 200 || r.status >= 300) {
        reject(await problemOf(new Response(r.responseText, { status: Math.max(200, r.status) })));
        return;
      }
      let answer = null;
      try {
        answer = JSON.parse(r.responseText);
      } catch {
        /* half an answer */
      }
      if (answer) resolve(answer);
      else broke();
    });
    signal?.addEventListener("abort", () => r.abort(), { once: true });
    r.send(piece);
  });
}
