/* Hours read at machines, kept on this phone until the house has them, and what is known of the machines.

   entries: {id, member, name, machine, code, tag, meter, at, note, photo, state, ...}
     member, name  who entered it: nobody sends another's entries under their own name
     machine       the machine's id; null where this phone only knew the sticker's code
     at            when it was read (this phone's milliseconds)
     photo         a picture (Blob) that the house doesn't have yet, or null
     state         waiting; once the house answered counted, held, discarded or refused
     said, sentAt  why, and when the house answered; reading, page: where it is in the house
     photoSent, photoSaid  that the house has the photo, or why not
   machines: {member, at, cards}: as the house told them (api/v1/phone), and when */

import { change, within } from "../store.js";

const KNOWN_FOR = 3 * 24 * 3600 * 1000; // milliseconds for which an entry that is in the house is still shown

export const keep = (entry) => within("entries", "readwrite", (rows) => rows.put(entry));
export const drop = (id) => within("entries", "readwrite", (rows) => rows.delete(id));

/** An entry or a card as this version says it: the one before said `shows` for `meter`, "struck" for discarded. */
export const named = ({ shows, ...row }) => ({
  ...row,
  meter: row.meter ?? shows,
  ...(row.state === "struck" && { state: "discarded" }),
});

/** Note what became of an entry, unless it was dropped meanwhile. */
export const note = (id, facts) => change("entries", id, (entry) => entry && { ...entry, ...facts });

/** Every entry on this phone, the latest first. */
export async function all() {
  const found = await within("entries", "readonly", (rows) => rows.getAll());
  return found.map(named).sort((one, other) => other.at - one.at);
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
  within("machines", "readwrite", (rows) => {
    rows.clear(); // one person at a time
    rows.put({ member, at: Date.now(), cards: machines });
  });

export const dropMachines = () => within("machines", "readwrite", (rows) => rows.clear());

/** The machines of this member as they were last heard of. */
export async function machinesOf(member) {
  const { at = 0, cards = [] } = (await within("machines", "readonly", (rows) => rows.get(member))) ?? {};
  return { at, cards: cards.map(named) };
}
