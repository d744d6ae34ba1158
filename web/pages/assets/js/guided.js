// A set filmed on the phone: slow, fast and jump, one after the other, each sent while the next one is filmed.
import { $, announce, fill, h } from "./dom.js";
import { named, say } from "./words.js";

/** @typedef {"to_film" | "sending" | "sent" | "skipped"} State */
const order = /** @type {const} */ (["slow", "fast", "jump"]);
const words = {
  slow: () => say("guided.now_slow"),
  fast: () => say("guided.now_fast"),
  jump: () => say("guided.now_jump"),
};
const states = {
  to_film: () => say("guided.to_film"),
  sending: () => say("guided.sending"),
  sent: () => say("guided.sent"),
  skipped: () => say("guided.skipped"),
};

export class Guided {
  /**
   * ready says whether it is known whose clips they are; send sends a clip of a tempo and resolves with whether it
   * arrived.
   * @param {{ready: () => boolean, send: (file: File, tempo: string) => Promise<boolean>}} how
   */
  constructor({ ready, send }) {
    this.ready = ready;
    this.send = send;
    /** @type {Record<string, State>} */
    this.state = {};
    $("#film-set").addEventListener("click", () => this.begin());
    $("#guided-film").addEventListener("click", () => {
      if (this.ready()) $("#guided-camera").click();
    });
    $("#guided-skip").addEventListener("click", () => {
      this.state[this.now] = "skipped";
      this.show();
    });
    $("#guided-end").addEventListener("click", () => this.end());
    $("#guided-camera").addEventListener("change", () => {
      const [file] = $("#guided-camera").files;
      $("#guided-camera").value = "";
      if (file) this.filmed(file);
    });
  }

  /** The tempo to be filmed next; empty when the set is complete. */
  get now() {
    return order.find((t) => this.state[t] === "to_film") || "";
  }

  begin() {
    if (!this.ready()) return;
    this.state = Object.fromEntries(order.map((t) => [t, "to_film"]));
    $("#guided").hidden = false;
    this.show();
    $("#guided").scrollIntoView({ block: "start", behavior: "auto" });
    $("#guided-film").focus();
  }

  end() {
    $("#guided").hidden = true;
    $("#film-set").focus();
  }

  async filmed(file) {
    const tempo = this.now;
    if (!tempo) return;
    this.state[tempo] = "sending";
    this.show();
    // One that did not arrive stands in the list of chosen clips, with what to do.
    this.state[tempo] = (await this.send(file, tempo)) ? "sent" : "to_film";
    this.show();
  }

  show() {
    const { now } = this;
    fill(
      $("#guided-steps"),
      order.map((t) =>
        h(
          "li",
          {
            class: this.state[t],
            data: { testid: `guided-${t}` },
            "aria-current": t === now && "step",
          },
          say("guided.step", { tempo: named("tempo", t), state: states[this.state[t]]() }),
        ),
      ),
    );
    const text = now ? words[now]() : say("guided.done");
    if ($("#guided-now").textContent !== text) {
      $("#guided-now").textContent = text;
      announce(text);
    }
    $("#guided-film").hidden = $("#guided-skip").hidden = !now;
    if (now) $("#guided-film").textContent = say("guided.film", { tempo: named("tempo", now) });
  }
}
