/* Sends the hours that wait on this phone, from a page or from the service worker. The house counts each once. */

import { Refused, ask, send, sendPhoto } from "../ask.js";
import { all, note, waits } from "./kept.js";

const API = "/api/v1/phone";
const NEVER = [400, 404, 413, 422]; // sent again it would be refused again

/** Ask who is signed in, and for the machines or the one of a code; this also brings a fresh CSRF token. */
export const askMachines = (code = "") => ask(code ? `${API}?code=${encodeURIComponent(code)}` : API);

/** Send everything that waits, the oldest first. Returns why something is left: "", "signed out" or "no line". */
export function sendWaiting() {
  if (!globalThis.navigator.locks) return sendAll();
  return navigator.locks.request("hourmark-entries", sendAll); // a page and the worker take turns
}

async function sendAll() {
  for (const entry of (await all()).filter(waits).reverse()) {
    try {
      await withFreshToken(() => sendOne(entry));
    } catch (error) {
      if (!(error instanceof Refused)) return { left: "no line" };
      if ([401, 403].includes(error.status)) return { left: "signed out" };
      if (error.status !== 409) return { left: "no line" }; // the house is there but can't; it is asked again
    }
  }
  return { left: "" };
}

/** The token of forms may have ended though the sign-in has not: fetch another and try once more. */
async function withFreshToken(act) {
  try {
    await act();
  } catch (error) {
    if (!(error instanceof Refused) || error.status !== 403) throw error;
    await askMachines("0"); // of no machine: only the token is wanted
    await act();
  }
}

async function sendOne(entry) {
  const reading = entry.reading ?? (await sendHours(entry));
  if (!reading || !entry.photo) return;
  try {
    await sendPhoto(`${API}/readings/${reading}/photos`, entry.photo, "meter.jpg");
    await note(entry.id, { photo: null, photoSent: true });
  } catch (error) {
    if (!(error instanceof Refused) || !NEVER.includes(error.status)) throw error;
    await note(entry.id, { photo: null, photoSaid: said(error) });
  }
}

/** Send the hours of one entry; the id of their reading, null where the house won't have them. */
async function sendHours(entry) {
  try {
    const answer = await send(`${API}/entries`, {
      member: entry.member,
      machine: entry.machine,
      code: entry.code,
      read_seconds_ago: Math.max(0, Math.round((Date.now() - entry.at) / 1000)),
      shows: entry.shows,
      client_id: entry.id,
      note: entry.note,
    });
    const { state, reason, reading, page } = answer;
    await note(entry.id, { state, said: reason, reading, page, sentAt: Date.now() });
    return reading;
  } catch (error) {
    if (!(error instanceof Refused) || !NEVER.includes(error.status)) throw error;
    await note(entry.id, { state: "refused", said: said(error), sentAt: Date.now() });
    return null;
  }
}

const said = (error) => error.problem.errors?.[0]?.detail ?? error.message;
