/* Where what was typed on an order is by now, in words. */

import { entries, kept, standing as said } from "../standing.js";

/** What a person wrote, as a sentence that another may follow. */
export const ended = (text) => (/[.!?]$/.test(text.trim()) ? text.trim() : `${text.trim()}.`);

/** What the line at the top of the page says, and how. `waits`: entries that are sent before the order is closed. */
export function standing({ waits, atClosing, closing, clash, told, refused, left, ...stand }) {
  const waiting = waits + atClosing;
  const offline = left === "no line" || !navigator.onLine;
  const soon = offline ? "when you have signal" : "as you go on";
  const later = waits ? soon : "when you close";
  if (clash) return { text: `${kept(waiting)}. Choose below which to keep.`, kind: "warning" };
  const first = [
    refused && { text: `Not accepted: ${entries(refused)}.${waits ? ` ${kept(waiting)}.` : ""}`, kind: "warning" },
    closing && { text: "Kept on this phone. The order closes as soon as you have signal.", kind: "waiting" },
    told && { text: told, kind: "warning" },
  ].find(Boolean);
  return said({ ...stand, waiting, left, later, first, done: "All sent." });
}
