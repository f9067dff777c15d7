/* Keeps the orders that were opened on this phone: the page of each and the files it needs.

   A page and its files come from the line while there is one, so that what is shown is never older than it
   must be; from here when there is none, or when it doesn't answer in time. Nothing is sent or changed here. */

const KEPT = "hourmark-orders-1";
const PATIENCE = 4000; // milliseconds until a line that is there but doesn't answer counts as none
const ORDER = /^\/orders\/\d+\/steps\/$/;
const SIGN_OUT = "/sign-out/";

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(forget().then(() => self.clients.claim())));

self.addEventListener("message", (event) => {
  const { page, files } = event.data;
  event.waitUntil(
    keep(page, files).then(
      () => event.ports[0].postMessage({ kept: true }),
      (error) => event.ports[0].postMessage({ kept: false, why: String(error) }),
    ),
  );
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (url.pathname === SIGN_OUT) {
    // The pages go with the one who signs out; what was typed stays with the phone, under that person's id.
    event.waitUntil(caches.delete(KEPT));
    return;
  }
  if (request.method !== "GET") return;
  if (request.mode === "navigate") {
    if (ORDER.test(url.pathname)) event.respondWith(page(request, url));
    return;
  }
  if (!url.pathname.startsWith("/api/")) event.respondWith(file(request));
});

/** Keep a page and the files it needs, all of them or none. */
async function keep(page, files) {
  const answers = await Promise.all(
    [page, ...files].map(async (address) => {
      const answer = await fetch(address, { cache: "no-cache" });
      if (!answer.ok || answer.redirected) throw new Error(`${address}: ${answer.status}`);
      return [address, answer];
    }),
  );
  const kept = await caches.open(KEPT);
  await Promise.all(answers.map(([address, answer]) => kept.put(address, answer)));
}

/** The page of an order from the line, else the one that was kept, whichever of its steps is asked for. */
async function page(request, url) {
  const kept = await caches.open(KEPT);
  try {
    return await inTime(fetch(request));
  } catch (error) {
    const known = await kept.match(url.pathname, { ignoreVary: true });
    if (known) return known;
    throw error;
  }
}

/** A file from the line; from here when there is none. Files that weren't asked to be kept aren't. */
async function file(request) {
  const known = await caches.match(request, { cacheName: KEPT, ignoreVary: true });
  if (!known) return fetch(request);
  try {
    return await inTime(fetch(request));
  } catch {
    return known.clone();
  }
}

function inTime(answer) {
  const late = new Promise((_, refuse) => setTimeout(() => refuse(new Error("no answer in time")), PATIENCE));
  return Promise.race([answer, late]);
}

/** Drop what an earlier kind of this script kept. */
async function forget() {
  const names = await caches.keys();
  await Promise.all(
    names.filter((name) => name.startsWith("hourmark-orders-") && name !== KEPT).map((name) => caches.delete(name)),
  );
}
