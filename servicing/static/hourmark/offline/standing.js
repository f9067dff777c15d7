/* Where what was entered on this phone is by now, in words. */

import { fill, gettext, ngettext } from "../language.js";

/** What is kept, and sent later on its own. */
export const sentWithSignal = (n) =>
  fill(ngettext("Kept on this phone: {n} entry, sent when you have signal.", "Kept on this phone: {n} entries, sent when you have signal.", n), { n });

const toSignIn = (n) =>
  fill(ngettext("Kept on this phone: {n} entry. Sign in again to send.", "Kept on this phone: {n} entries. Sign in again to send.", n), { n });

/** Why the house refused, as a sentence; where it gave none, its status was kept (ask.js). */
export const refused = (why) => (/^\d+$/.test(why) ? fill(gettext("Refused ({status})."), { status: why }) : why);

/** What the line at the top of a page says, and how.

    waiting, left  how many entries wait, and why they are left (queue.js)
    later          says of so many when they are sent
    first, news    what the page itself has to say: before that, and once nothing waits
    done           what it says of entries when there is no news
    pageKept       whether the page opens without a line; null while that isn't known */
export function standing({ waiting, left, signIn, pageKept, later = sentWithSignal, first = null, news = null, done = "" }) {
  if (waiting && left === "signed out") {
    return { text: toSignIn(waiting), kind: "warning", link: { href: signIn, text: gettext("Sign in") } };
  }
  if (first) return first;
  if (waiting) return { text: later(waiting), kind: "waiting" };
  if (news) return news;
  if (!navigator.onLine) return { text: gettext("No signal. Carry on: what you enter is kept on this phone."), kind: "waiting" };
  const opens = pageKept ? gettext("Works without signal, too.") : "";
  const said = pageKept === false ? gettext("This browser can't open the page without signal.") : opens;
  return { text: `${done} ${said}`.trim() };
}
