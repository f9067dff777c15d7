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

/** Run one transaction; `work` gets the store and a function that takes the result. */
export async function within(store, mode, work) {
  const transaction = (await database()).transaction(store, mode, SAFE);
  let result;
  work(transaction.objectStore(store), (value) => { result = value; });
  await new Promise((resolve, reject) => {
    transaction.oncomplete = resolve;
    transaction.onabort = () => reject(transaction.error);
  });
  return result;
}
