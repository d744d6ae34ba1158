// Talking to the server.
import { say } from "./words.js";

/** What the server could not do, in its own words. */
export class Problem extends Error {
  constructor(status, text, hint) {
    super(text);
    this.status = status;
    this.hint = hint || "";
  }
  plain() {
    const end = (s) => (s && !/[.?!]$/.test(s) ? `${s}.` : s);
    const up = (s) => (s ? s[0].toUpperCase() + s.slice(1) : s);
    return [up(end(this.message)), up(end(this.hint))].filter(Boolean).join(" ");
  }
}

/** Makes a Problem of an answer that is an error. */
export async function problemOf(answer) {
  let text = say("server.answered", { status: answer.status });
  let hint = "";
  try {
    const said = await answer.json();
    if (said.error) ({ error: text, hint } = said);
  } catch {
    /* no JSON: the status has to do */
  }
  if (answer.status === 401) location.assign("/login");
  return new Problem(answer.status, text, hint);
}

/**
 * Sends a request and returns the answer's JSON.
 * @param {string} method
 * @param {string} url
 * @param {unknown} [body]
 * @param {{signal?: AbortSignal, headers?: Record<string, string>}} [options]
 * @returns {Promise<any>}
 */
export async function call(method, url, body, { signal, headers } = {}) {
  let answer;
  try {
    answer = await fetch(url, {
      method,
      signal,
      credentials: "same-origin",
      headers: {
        ...(method === "GET" ? {} : { "X-Holdfast": "1" }),
        ...(body === undefined ? {} : { "Content-Type": "application/json" }),
        ...headers,
      },
      body: body === undefined ? undefined : JSON.stringify(body),
    });
  } catch (err) {
    if (err.name === "AbortError") throw err;
    throw new Problem(0, say("server.silent"), say("server.silent_hint"));
  }
  if (!answer.ok) throw await problemOf(answer);
  return answer.json();
}

export const get = (url, options) => call("GET", url, undefined, options);
export const post = (url, body = {}, options) => call("POST", url, body, options);

const streams = new Set();

/** Ends the streams of events: whoever logs out is not told any more. */
export function unfollow() {
  for (const stop of streams) stop();
}

/**
 * Follows the server's events while the page is seen; returns how to stop. A hidden page
 * lets go of its connection: a browser has six for one server, and a seventh page would
 * wait for ever. handlers are by the event's name, besides open and error of the
 * connection, and again: the page is connected after a time in which it was told nothing.
 * @param {Record<string, (said?: any) => void>} handlers
 */
export function follow({ open, error, again, ...handlers }) {
  let source = null;
  let stopped = false;
  let missed = document.hidden;
  const close = () => {
    if (source) missed = true;
    source?.close();
    source = null;
  };
  const look = () => {
    if (document.hidden || stopped) close();
    else if (!source) connect();
  };
  const connect = () => {
    const s = new EventSource("/api/events");
    source = s;
    s.addEventListener("open", () => {
      open?.();
      if (missed) again?.();
      missed = false;
    });
    s.addEventListener("error", () => {
      missed = true;
      if (s.readyState === EventSource.CLOSED) close(); // the browser does not try again: the next look does
      error?.();
    });
    for (const [name, f] of Object.entries(handlers)) s.addEventListener(name, (e) => f(JSON.parse(e.data)));
  };
  const stop = () => {
    stopped = true;
    close();
  };
  streams.add(stop);
  document.addEventListener("visibilitychange", look);
  addEventListener("pagehide", close);
  addEventListener("pageshow", look); // the browser may keep a page that was left, and show it again
  look();
  return stop;
}

/** Fetches a file that may take a while to be made, and saves it. */
export async function save(url, name) {
  let answer;
  try {
    answer = await fetch(url, { credentials: "same-origin", headers: { Accept: "*/*" } });
  } catch {
    throw new Problem(0, say("server.silent"), say("server.silent_hint"));
  }
  if (!answer.ok) throw await problemOf(answer);
  const said = /filename="?([^";]+)"?/.exec(answer.headers.get("Content-Disposition") || "");
  const href = URL.createObjectURL(await answer.blob());
  const a = document.createElement("a");
  a.href = href;
  a.download = said ? said[1] : name;
  document.body.append(a);
  a.click();
  a.remove();
  setTimeout(() => URL.revokeObjectURL(href), 60_000);
}
