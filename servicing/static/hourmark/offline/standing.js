/* Where what was entered on this phone is by now, in words. */

export const entries = (count) => (count === 1 ? "1 entry" : `${count} entries`);

export const kept = (count) => `Kept on this phone: ${entries(count)}`;

/** What the line at the top of a page says, and how.

    waiting, left  how many entries wait, and why they are left (queue.js)
    later          when they are sent
    first, news    what the page itself has to say: before that, and once nothing waits
    done           what it says of entries when there is no news
    pageKept       whether the page opens without a line; null while that isn't known */
export function standing({ waiting, left, signIn, pageKept, later = "when you have signal", first = null, news = null, done = "" }) {
  if (waiting && left === "signed out") {
    return { text: `${kept(waiting)}. Sign in again to send.`, kind: "warning", link: { href: signIn, text: "Sign in" } };
  }
  if (first) return first;
  if (waiting) return { text: `${kept(waiting)}, sent ${later}.`, kind: "waiting" };
  if (news) return news;
  if (!navigator.onLine) return { text: "No signal. Carry on: what you enter is kept on this phone.", kind: "waiting" };
  const opens = pageKept ? "Works without signal, too." : "";
  return { text: `${done} ${pageKept === false ? "This browser can't open the page without signal." : opens}`.trim() };
}
