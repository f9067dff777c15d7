/* Where this phone keeps things until the house has them (IndexedDB).

   orders    what was typed on an order: steps/kept.js
   photos    photos of an order's lines: steps/kept.js
   entries   hours read at machines: phone/kept.js
   machines  what is known of the machines, by member: phone/kept.js */

const NAME = "hourmark";
const VERSION = 2;
const SAFE = { durability: "strict" }; // written before it counts as kept, so that a closed browser loses nothing

let opened;

function database() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = ({ oldVersion }) => {
      const made = request.result;
      if (oldVersion < 1) {
        made.createObjectStore("orders", { keyPath: "key" });
        made.createObjectStore("photos", { keyPath: "id" }).createIndex("key", "key");
      }
      if (oldVersion < 2) {
        made.createObjectStore("entries", { keyPath: "id" });
        made.createObjectStore("machines", { keyPath: "member" });
      }
    };
    request.onsuccess = () => {
      request.result.onversionchange = () => {
        request.result.close(); // a newer page wants to go on
        opened = undefined;
      };
      resolve(request.result);
    };
    request.onerror = () => reject(request.error);
  });
  return opened;
}

const channels = {};
const channel = (store) => (channels[store] ??= new BroadcastChannel(`hourmark-${store}`));

/** Call `tell` whenever another page or the service worker changed something in a store. */
export const onChange = (store, tell) => globalThis.BroadcastChannel && channel(store).addEventListener("message", tell);

/** Run one transaction; the result is that of the request that `work` makes of the store. */
export async function within(store, mode, work) {
  const transaction = (await database()).transaction(store, mode, SAFE);
  const asked = work(transaction.objectStore(store));
  await new Promise((resolve, reject) => {
    transaction.oncomplete = resolve;
    transaction.onabort = () => reject(transaction.error);
  });
  if (mode === "readwrite" && globalThis.BroadcastChannel) channel(store).postMessage("changed");
  return asked?.result;
}

/** Change what is kept under a key, in one transaction, so that two windows don't undo each other.

    `edit` gets what is there and returns what is to be there; nothing leaves it as it is. */
export const change = (store, key, edit) =>
  within(store, "readwrite", (rows) => {
    const changed = {};
    rows.get(key).onsuccess = ({ target }) => {
      changed.result = edit(target.result);
      if (changed.result) rows.put(changed.result);
    };
    return changed;
  });
