/* Where what was typed on an order is by now, in words. */

import { fill, gettext, ngettext } from "../../language.js";
import { sentWithSignal, standing as said } from "../standing.js";

/** What a person wrote, as a sentence that another may follow. */
export const ended = (text) => (/[.!?]$/.test(text.trim()) ? text.trim() : `${text.trim()}.`);

const kept = (n) => fill(ngettext("Kept on this phone: {n} entry.", "Kept on this phone: {n} entries.", n), { n });

const sentSoon = (n) =>
  fill(ngettext("Kept on this phone: {n} entry, sent as you go on.", "Kept on this phone: {n} entries, sent as you go on.", n), { n });

const sentAtClosing = (n) =>
  fill(ngettext("Kept on this phone: {n} entry, sent when you close.", "Kept on this phone: {n} entries, sent when you close.", n), { n });

const toChoose = (n) =>
  fill(ngettext("Kept on this phone: {n} entry. Choose below which to keep.", "Kept on this phone: {n} entries. Choose below which to keep.", n), { n });

const notAccepted = (n) => fill(ngettext("Not accepted: {n} entry.", "Not accepted: {n} entries.", n), { n });

/** What the line at the top of the page says, and how. `waits`: entries that are sent before the order is closed. */
export function standing({ waits, atClosing, closing, clash, told, refused, left, ...stand }) {
  const waiting = waits + atClosing;
  const offline = left === "no line" || !navigator.onLine;
  const soon = offline ? sentWithSignal : sentSoon;
  const later = waits ? soon : sentAtClosing;
  if (clash) return { text: toChoose(waiting), kind: "warning" };
  const first = [
    refused && { text: [notAccepted(refused), waits ? kept(waiting) : ""].join(" ").trim(), kind: "warning" },
    closing && { text: gettext("Kept on this phone. The order closes as soon as you have signal."), kind: "waiting" },
    told && { text: told, kind: "warning" },
  ].find(Boolean);
  return said({ ...stand, waiting, left, later, first, done: gettext("All sent.") });
}
