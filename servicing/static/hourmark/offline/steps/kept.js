/* What was typed on an order, kept on this phone until the house has it.

   orders: {key, order, base, revision, typed, refused, aside, closing, step}
     base      what was recorded at `revision`, by the name of the field
     typed     what was typed and isn't recorded yet
     refused   what is wrong with what was typed, by the name of the field, until something else is typed
     aside     what was typed and then given up for somebody else's entry: {label, value, at}
     closing   when the person closed it (this phone's milliseconds), until the house has it; else 0
   photos: {id, key, line, blob, name}

   The key holds the member's id: on a shared phone nobody sends another's entries under their own name. */

import { valuesNow } from "../../former_names.js";
import { change as changeIn, within } from "../store.js";

export const keyOf = (facts) => `${facts.member}-${facts.order}`;

/** What is kept for an order, or undefined. */
export const load = (key) => within("orders", "readonly", (rows) => rows.get(key)).then(now);

/** Change what is kept for an order. */
export const change = (key, fresh, edit) =>
  changeIn("orders", key, (before) => {
    const kept = { key, ...fresh, ...now(before) };
    edit(kept);
    return kept;
  });

/** What a page of the version before kept, under the names of now. */
const now = (kept) =>
  kept && { ...kept, base: valuesNow(kept.base), typed: valuesNow(kept.typed), refused: valuesNow(kept.refused) };

export const forget = (key) => within("orders", "readwrite", (rows) => rows.delete(key));

export const keepPhoto = (photo) => within("photos", "readwrite", (rows) => rows.put(photo));
export const dropPhoto = (id) => within("photos", "readwrite", (rows) => rows.delete(id));
export const photosOf = (key) => within("photos", "readonly", (rows) => rows.index("key").getAll(key));
