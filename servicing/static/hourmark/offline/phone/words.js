/* What is said of hours on this phone. */

import { decimalMark, fill, gettext, ngettext } from "../../language.js";
import { parts, readNumber } from "../numbers.js";
import { refused } from "../standing.js";

const DAY = 24 * 3600 * 1000; // milliseconds
const AT_ONCE = 10000; // milliseconds: what the house answered within them is told together
const SLACK = 1; // hours by which a reading may outrun the clock before it is doubted here

/** Read what was typed as the house does, by the rules it sends: {meter} with a point, or {wrong}. */
export function readHours(typed, rules) {
  if (!typed.trim()) return { wrong: rules.required };
  const { text, why } = readNumber(typed, rules);
  if (why === "two_ways") return { wrong: inTwoWays() };
  if (why) return { wrong: rules.invalid };
  const { minus, before, after } = parts(text);
  if (minus || before.length > rules.digits || after.length > rules.places) return { wrong: rules.invalid };
  return { meter: `${before || "0"}${after && `.${after}`}` };
}

const inTwoWays = () =>
  decimalMark === ","
    ? gettext("Write it without points between thousands, like 1204,5.")
    : gettext("Write it without commas between thousands, like 1204.5.");

/** `1204.5` as `1 204.5 h`, or as the reader writes it. */
export function hours(meter) {
  const [whole, part] = String(meter).split(".");
  const tenths = part?.replace(/0+$/, "");
  return `${whole.replace(/\B(?=(\d{3})+$)/g, "\u202f")}${tenths ? `${decimalMark}${tenths}` : ""}\u00a0h`;
}

/** A doubt about hours against what was read before, or "". It keeps nobody from entering them. */
export function doubt(meter, before, now = Date.now()) {
  if (!before) return "";
  const more = Number(meter) - Number(before.meter);
  if (more < 0) {
    return fill(gettext("The meter showed {hours} before. Check it; if it is right, enter it."), { hours: hours(before.meter) });
  }
  const most = ((now - before.at) / DAY) * 24 + SLACK;
  if (more > most) {
    return fill(gettext("That is {hours} more than before, but less time has passed. Check it."), { hours: hours(more.toFixed(1)) });
  }
  return "";
}

const ONE = {
  counted: gettext("Counted: {tag} {hours}."),
  held: gettext("Held: {tag} {hours}."),
  refused: gettext("Not accepted: {tag} {hours}."),
  discarded: gettext("Discarded before: {tag} {hours}."),
};

const SEVERAL = {
  counted: (n) => ngettext("{n} counted", "{n} counted", n),
  held: (n) => ngettext("{n} held", "{n} held", n),
  refused: (n) => ngettext("{n} not accepted", "{n} not accepted", n),
};

/** What became of the entries that the house has just answered, or null. */
export function arrived(answered) {
  const latest = Math.max(...answered.map((entry) => entry.sentAt));
  const together = answered.filter((entry) => latest - entry.sentAt < AT_ONCE);
  const [one] = together;
  if (!one) return null;
  const count = (state) => together.filter((entry) => entry.state === state).length;
  const kind = count("held") || count("refused") ? "warning" : "";
  if (together.length > 1) {
    const counts = Object.entries(SEVERAL).map(([state, words]) => [count(state), words]);
    const said = counts.filter(([n]) => n).map(([n, words]) => fill(words(n), { n }));
    return { text: fill(gettext("Sent: {counts}."), { counts: said.join(", ") }), kind };
  }
  const said = fill(ONE[one.state], { tag: one.tag, hours: hours(one.meter) });
  return { text: `${said} ${refused(one.said)}`.trim(), kind };
}
