/* Hours read at machines, kept on this phone until the house has them, and what is known of the machines.

   entries: {id, member, name, machine, code, tag, shows, at, note, photo, state, ...}
     member, name  who entered it: nobody sends another's entries under their own name
     machine       the machine's id; null where this phone only knew the sticker's code
     at            when it was read (this phone's milliseconds)
     photo         a picture (Blob) that the house doesn't have yet, or null
     state         waiting; once the house answered counted, held, struck or refused
     said, sentAt  why, and when the house answered; reading, page: where it is in the house
     photoSent, photoSaid  that the house has the photo, or why not
   machines: {member, at, cards}: as the house told them (api/v1/phone), and when */

import { within } from "../store.js";

const KNOWN_FOR = 3 * 24 * 3600 * 1000; // milliseconds for which an entry that is in the house is still shown

const changes = globalThis.BroadcastChannel ? new BroadcastChannel("hourmark-entries") : null;

/** Call `tell` whenever another page or the service worker changed an entry. */
export const onChange = (tell) => changes?.addEventListener("message", tell);

export async function keep(entry) {
  await within("entries", "readwrite", (store) => store.put(entry));
  changes?.postMessage("kept");
}

/** Note what became of an entry, unless it was dropped meanwhile. */
export async function note(id, facts) {
  await within("entries", "readwrite", (store) => {
    store.get(id).onsuccess = ({ target: { result } }) => result && store.put({ ...result, ...facts });
  });
  changes?.postMessage("noted");
}

export async function drop(id) {
  await within("entries", "readwrite", (store) => store.delete(id));
  changes?.postMessage("dropped");
}

/** Every entry on this phone, the latest first. */
export async function all() {
  const found = await within("entries", "readonly", (store, take) => {
    store.getAll().onsuccess = (event) => take(event.target.result);
  });
  return found.sort((one, other) => other.at - one.at);
}

/** Whether the house has yet to get something of an entry. */
export const waits = (entry) => entry.state === "waiting" || Boolean(entry.photo && entry.reading);

/** Drop what has been in the house for some days. */
export async function tidy() {
  for (const entry of await all()) {
    if (!waits(entry) && entry.state !== "refused" && Date.now() - entry.sentAt > KNOWN_FOR) await drop(entry.id);
  }
}

export const keepMachines = ({ member, machines }) =>
  within("machines", "readwrite", (store) => {
    store.clear(); // one person at a time
    store.put({ member, at: Date.now(), cards: machines });
  });

export const dropMachines = () => within("machines", "readwrite", (store) => store.clear());

/** The machines of this member as they were last heard of. */
export async function machinesOf(member) {
  const kept = await within("machines", "readonly", (store, take) => {
    store.get(member).onsuccess = (event) => take(event.target.result);
  });
  return kept ?? { at: 0, cards: [] };
}
