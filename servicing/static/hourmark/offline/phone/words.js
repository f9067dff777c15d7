/* What is said of hours on this phone. */

import { parts, readNumber } from "../numbers.js";

const DAY = 24 * 3600 * 1000; // milliseconds
const AT_ONCE = 10000; // milliseconds: what the house answered within them is told together
const SLACK = 1; // hours by which a reading may outrun the clock before it is doubted here

/** Read what was typed as the house does, by the rules it sends: {meter} with a point, or {wrong}. */
export function readHours(typed, rules) {
  if (!typed.trim()) return { wrong: rules.required };
  const { text, why } = readNumber(typed, rules);
  if (why === "two_ways") return { wrong: "Write it without commas between thousands, like 1204.5." };
  if (why) return { wrong: rules.invalid };
  const { minus, before, after } = parts(text);
  if (minus || before.length > rules.digits || after.length > rules.places) return { wrong: rules.invalid };
  return { meter: `${before || "0"}${after && `.${after}`}` };
}

/** `1204.5` as `1 204.5 h`. */
export function hours(meter) {
  const [whole, part] = String(meter).split(".");
  const tenths = part ? `.${part.replace(/0+$/, "")}` : "";
  return `${whole.replace(/\B(?=(\d{3})+$)/g, "\u202f")}${tenths === "." ? "" : tenths}\u00a0h`;
}

/** A doubt about hours against what was read before, or "". It keeps nobody from entering them. */
export function doubt(meter, before, now = Date.now()) {
  if (!before) return "";
  const more = Number(meter) - Number(before.meter);
  if (more < 0) return `The meter showed ${hours(before.meter)} before. Check it; if it is right, enter it.`;
  const most = ((now - before.at) / DAY) * 24 + SLACK;
  if (more > most) return `That is ${hours(more.toFixed(1))} more than before, but less time has passed. Check it.`;
  return "";
}

export const moment = (at) =>
  new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" }).format(at);

/** What became of the entries that the house has just answered, or null. */
export function arrived(answered) {
  const latest = Math.max(...answered.map((entry) => entry.sentAt));
  const together = answered.filter((entry) => latest - entry.sentAt < AT_ONCE);
  const [one] = together;
  if (!one) return null;
  const count = (state) => together.filter((entry) => entry.state === state).length;
  const kind = count("held") || count("refused") ? "warning" : "";
  if (together.length > 1) {
    const counts = [[count("counted"), "counted"], [count("held"), "held"], [count("refused"), "not accepted"]];
    return { text: `Sent: ${counts.filter(([n]) => n).map(([n, word]) => `${n} ${word}`).join(", ")}.`, kind };
  }
  const words = { counted: "Counted", held: "Held", refused: "Not accepted", discarded: "Discarded before" };
  return { text: `${words[one.state]}: ${one.tag} ${hours(one.meter)}. ${one.said}`.trim(), kind };
}
