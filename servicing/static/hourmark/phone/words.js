/* What is said of hours on this phone. */

const SPACES = /[\s\u00a0\u202f]/g;
const DAY = 24 * 3600 * 1000; // milliseconds
const AT_ONCE = 10000; // milliseconds: what the house answered within them is told together
const SLACK = 1; // hours by which a reading may outrun the clock before it is doubted here

/** Read what was typed as the house does: {shows} with a point, or {wrong}. */
export function readHours(typed) {
  let text = typed.replace(SPACES, "");
  if (!text) return { wrong: "Write what the meter shows." };
  if (/^\+?\d*,(?!\d{3}$)\d*$/.test(text)) text = text.replace(",", ".");
  if (text.includes(",")) return { wrong: "Write it without commas between thousands, like 1204.5." };
  const plain = /^\+?0*(\d{0,7})(?:\.(\d{0,2}))?$/.exec(text);
  if (!plain || !/\d/.test(text)) return { wrong: "Write the number as the meter shows it, like 1204.5." };
  return { shows: `${plain[1] || "0"}${plain[2] ? `.${plain[2]}` : ""}` };
}

/** `1204.5` as `1 204.5 h`. */
export function hours(shows) {
  const [whole, part] = String(shows).split(".");
  const tenths = part ? `.${part.replace(/0+$/, "")}` : "";
  return `${whole.replace(/\B(?=(\d{3})+$)/g, "\u202f")}${tenths === "." ? "" : tenths}\u00a0h`;
}

/** A doubt about hours against what was read before, or "". It keeps nobody from entering them. */
export function doubt(shows, before, now = Date.now()) {
  if (!before) return "";
  const more = Number(shows) - Number(before.shows);
  if (more < 0) return `The meter showed ${hours(before.shows)} before. Look again; if it is right, enter it.`;
  const most = ((now - before.at) / DAY) * 24 + SLACK;
  if (more > most) return `That is ${hours(more.toFixed(1))} more than before, and less time has passed. Look again.`;
  return "";
}

export const moment = (at) =>
  new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" }).format(at);

const entries = (count) => (count === 1 ? "1 entry" : `${count} entries`);

/** What became of the entries that the house has just answered, or null. */
function arrived(answered) {
  const latest = Math.max(...answered.map((entry) => entry.sentAt));
  const together = answered.filter((entry) => latest - entry.sentAt < AT_ONCE);
  const [one] = together;
  if (!one) return null;
  const count = (state) => together.filter((entry) => entry.state === state).length;
  const kind = count("held") || count("refused") ? "warning" : "";
  if (together.length > 1) {
    const parts = [[count("counted"), "counted"], [count("held"), "held"], [count("refused"), "not taken"]];
    return { text: `Sent: ${parts.filter(([n]) => n).map(([n, word]) => `${n} ${word}`).join(", ")}.`, kind };
  }
  const words = { counted: "Counted", held: "Held", refused: "Not taken", struck: "Struck before" };
  return { text: `${words[one.state]}: ${one.tag} ${hours(one.shows)}. ${one.said}`.trim(), kind };
}

/** What the line at the top of the page says, and how. `answered`: entries that the house answered lately. */
export function standing({ waiting, left, answered, pageKept, signIn }) {
  const kept = `Kept on this phone: ${entries(waiting)}`;
  if (waiting && left === "signed out") {
    return { text: `${kept}. Sign in again to send.`, kind: "warning", link: { href: signIn, text: "Sign in" } };
  }
  if (waiting) return { text: `${kept}, sent when the line is back.`, kind: "waiting" };
  const news = arrived(answered);
  if (news) return news;
  if (!navigator.onLine) return { text: "No line. Go on: what you enter is kept on this phone.", kind: "waiting" };
  if (pageKept === false) return { text: "This browser can't open the page without a line." };
  return { text: pageKept ? "Opens without a line, too." : "" };
}
