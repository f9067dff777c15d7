/* Keeps pages on this phone, with the files they need: orders that were opened, and the page behind stickers.

   A page and its files come from the line while there is one, so that what is shown is never older than it
   must be; from here when there is none, or when it doesn't answer in time. Where the browser wakes this script
   once the line is back (Background Sync), it sends the hours that wait, though no page is open. */

import { dropMachines } from "/static/hourmark/offline/phone/kept.js";
import { QUEUE, sendWaiting } from "/static/hourmark/offline/phone/send.js";

const KEPT = "hourmark-kept-1";
const PATIENCE = 4000; // milliseconds until a line that is there but doesn't answer counts as none
const isHouseGone = ({ status }) => [502, 503, 504].includes(status); // the door answers, the house doesn't
const isRefused = ({ status }) => status >= 400;
const ORDER = /^\/orders\/\d+\/steps\/$/;
const STICKER = /^\/r\/[^/]*$/;
const STICKERS = "/r/"; // one page for all machines: its script fills it in
const CHANGES_PERSON = ["/sign-out/", "/sign-in/"];

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(forget().then(() => self.clients.claim())));

self.addEventListener("message", (event) => {
  const { page, files } = event.data;
  const said = keep(page, files).then(() => ({ kept: true }), (error) => ({ kept: false, why: String(error) }));
  event.waitUntil(said.then((answer) => event.ports[0].postMessage(answer)));
});

self.addEventListener("sync", (event) => {
  if (event.tag !== QUEUE) return;
  event.waitUntil(sendWaiting().then((left) => {
    if (left) throw new Error(left); // the browser asks again later
  }));
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
    if (ORDER.test(url.pathname)) event.respondWith(fromLine(request, url.pathname, isHouseGone));
    if (STICKER.test(url.pathname)) event.respondWith(fromLine(request, STICKERS, isHouseGone));
    return;
  }
  if (!url.pathname.startsWith("/api/")) event.respondWith(fromLine(request, request, isRefused));
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

/** An answer from the line; what was kept at the address where there is none in time, or only one that is no use.

    So a page of an earlier version goes on with the scripts kept with it, though the house has them no more.
    What wasn't asked to be kept isn't. */
async function fromLine(request, address, useless) {
  const known = await caches.match(address, { cacheName: KEPT, ignoreVary: true });
  if (!known) return fetch(request);
  try {
    const answer = await inTime(fetch(request));
    return useless(answer) ? known : answer;
  } catch {
    return known;
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
