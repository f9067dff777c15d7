/* Sends the hours that wait on this phone, from a page or from the service worker. The house counts each once. */

import { ask, send, sendPhoto } from "../ask.js";
import { inTurn, meaning, refusal } from "../queue.js";
import { all, note, waits } from "./kept.js";

const API = "/api/v1/phone";
export const QUEUE = "entries";

/** Ask who is signed in, and for the machines or the one of a code. */
export const askMachines = (code = "") => ask(code ? `${API}?code=${encodeURIComponent(code)}` : API);

/** Send everything that waits, as the worker does while no page is open; returns why something is left. */
export const sendWaiting = () => inTurn(QUEUE, sendAll);

/** Send everything that waits, the oldest first; what somebody else entered waits for them. */
export async function sendAll() {
  for (const entry of (await all()).filter(waits).reverse()) {
    try {
      await sendOne(entry);
    } catch (error) {
      if (meaning(error) !== "conflict") throw error;
    }
  }
}

async function sendOne(entry) {
  const reading = entry.reading ?? (await sendHours(entry));
  if (!reading || !entry.photo) return;
  const { member } = entry;
  const became = await sendPhoto(`${API}/readings/${reading}/photos`, entry.photo, "meter.jpg", { member }).then(
    () => ({ photoSent: true }),
    (error) => ({ photoSaid: refusal(error) }),
  );
  await note(entry.id, { photo: null, ...became });
}

/** Send the hours of one entry; the id of their reading, undefined where the house won't have them. */
async function sendHours({ id, member, machine, code, meter, at, note: said }) {
  const read_seconds_ago = Math.max(0, Math.round((Date.now() - at) / 1000));
  const body = { member, machine, code, read_seconds_ago, meter, client_id: id, note: said };
  const became = await send(`${API}/entries`, body).then(
    ({ state, reason, reading, page }) => ({ state, said: reason, reading, page }),
    (error) => ({ state: "refused", said: refusal(error) }),
  );
  await note(id, { ...became, sentAt: Date.now() });
  return became.reading;
}
