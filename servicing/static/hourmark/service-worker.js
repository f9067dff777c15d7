/* Keeps pages on this phone, with the files they need: orders that were opened, and the page behind stickers.

   A page and its files come from the line while there is one, so that what is shown is never older than it
   must be; from here when there is none, or when it doesn't answer in time. Where the browser wakes this script
   once the line is back (Background Sync), it sends the hours that wait, though no page is open. */

import { dropMachines } from "/static/hourmark/phone/kept.js";
import { sendWaiting } from "/static/hourmark/phone/send.js";

const KEPT = "hourmark-kept-1";
const PATIENCE = 4000; // milliseconds until a line that is there but doesn't answer counts as none
const HOUSE_GONE = [502, 503, 504]; // the door answers, the house doesn't
const ORDER = /^\/orders\/\d+\/steps\/$/;
const STICKER = /^\/r\/[^/]*$/;
const STICKERS = "/r/"; // one page for all machines: its script fills it in
const CHANGES_PERSON = ["/sign-out/", "/sign-in/"];

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

self.addEventListener("sync", (event) => {
  if (event.tag !== "entries") return;
  const sent = sendWaiting().then(({ left }) => {
    if (left) throw new Error(left); // the browser asks again later
  });
  event.waitUntil(sent);
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.method === "POST" && CHANGES_PERSON.includes(url.pathname)) {
    // The pages go with the person; what was typed stays with the phone, under that person's id.
    event.waitUntil(Promise.all([caches.delete(KEPT), dropMachines()]));
    return;
  }
  if (request.method !== "GET") return;
  if (request.mode === "navigate") {
    if (ORDER.test(url.pathname)) event.respondWith(page(request, url.pathname));
    if (STICKER.test(url.pathname)) event.respondWith(page(request, STICKERS));
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

/** A page from the line, else the one that was kept at that address. */
async function page(request, address) {
  const kept = await caches.open(KEPT);
  try {
    const answer = await inTime(fetch(request));
    if (!HOUSE_GONE.includes(answer.status)) return answer;
    return (await kept.match(address, { ignoreVary: true })) ?? answer;
  } catch (error) {
    const known = await kept.match(address, { ignoreVary: true });
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
    names.filter((name) => name.startsWith("hourmark-") && name !== KEPT).map((name) => caches.delete(name)),
  );
}
