/* When what waits on this phone is sent, and what an answer of the house means. For orders and for hours. */

import { Refused } from "./ask.js";

const AGAIN = 20000; // milliseconds until a line that failed is tried again
const NEVER = [400, 404, 413, 422]; // sent again it would be refused again

/** What an error in sending means: "signed out", "conflict" (others changed it, or somebody else is signed in),
    "refused" for good, or "no line": the house doesn't answer, or can't just now. */
export function meaning(error) {
  if (!(error instanceof Refused)) return "no line";
  if ([401, 403].includes(error.status)) return "signed out";
  if (error.status === 409) return "conflict";
  return NEVER.includes(error.status) ? "refused" : "no line";
}

/** Why the house will never take it. Throws the error on where it may yet: then it waits. */
export function refusal(error, { photo = false } = {}) {
  const never = photo ? ["refused", "conflict"] : ["refused"]; // nobody can settle a conflict about a photo
  if (!never.includes(meaning(error))) throw error;
  return error.message;
}

/** Send what waits, one page or the worker at a time; why something is left: "", "signed out" or "no line". */
export async function inTurn(name, sendAll) {
  const turn = async () => {
    try {
      await sendAll();
      return "";
    } catch (error) {
      return meaning(error) === "signed out" ? "signed out" : "no line";
    }
  };
  return navigator.locks ? navigator.locks.request(`hourmark-${name}`, turn) : turn();
}

/** What a page has to send. `name`: the same in all pages; `tell` is called when something else is to be said. */
export class Queue {
  left = ""; // why something is left
  #busy = null;
  #wanted = false;
  #timer = 0;

  constructor(name, sendAll, tell) {
    Object.assign(this, { name, sendAll, tell });
  }

  /** Send whenever the line is back, and when somebody looks at the page again. */
  watch() {
    window.addEventListener("online", () => this.send());
    window.addEventListener("offline", () => this.tell());
    document.addEventListener("visibilitychange", () => document.hidden || this.send());
  }

  /** Send what waits; asked for while it is sent, all of it is looked at once more. */
  send() {
    this.#wanted = true;
    this.#busy ??= this.#run();
    return this.#busy;
  }

  async #run() {
    clearTimeout(this.#timer);
    try {
      while (this.#wanted) {
        this.#wanted = false;
        this.left = await inTurn(this.name, this.sendAll);
      }
    } finally {
      this.#busy = null;
    }
    if (this.left === "no line") this.#timer = setTimeout(() => this.send(), AGAIN);
    await this.tell();
  }
}
