/* Where what was typed is by now, in words. */

const entries = (count) => (count === 1 ? "1 entry" : `${count} entries`);

/** What a person wrote, as a sentence that another may follow. */
export const ended = (text) => (/[.!?]$/.test(text.trim()) ? text.trim() : `${text.trim()}.`);

/** What the line at the top of the page says, and how. */
export function standing({ waits, atClosing, closing, clash, state, pageKept, refused }) {
  const kept = `Kept on this phone: ${entries(waits + atClosing)}`;
  const quiet = ["", "waiting", "sending"].includes(state);
  if (clash) return { text: `${kept}. Choose below what is to stand.`, kind: "warning" };
  if (state === "signed out") return { text: `${kept}. Sign in again to send.`, kind: "warning" };
  if (refused) return { text: `Not accepted: ${entries(refused)}.${waits ? ` ${kept}.` : ""}`, kind: "warning" };
  if (closing) return { text: "Kept on this phone. The order is closed as soon as there is a line.", kind: "waiting" };
  if (!quiet) return { text: state, kind: "warning" };
  if (waits) return { text: `${kept}, sent ${navigator.onLine ? "as you go on" : "when the line is back"}.`, kind: "waiting" };
  if (atClosing) return { text: `${kept}, sent when you close.`, kind: "waiting" };
  if (!navigator.onLine) return { text: "No line. Go on: what you enter is kept on this phone.", kind: "waiting" };
  if (pageKept === false) return { text: "All sent. This browser can't open the page without a line." };
  return { text: pageKept ? "All sent. Opens without a line, too." : "All sent." };
}
