/* The page behind a sticker: takes hours in, with a line or without.

   An entry is kept on this phone first, then sent; so nothing is lost between the two. Without this script the
   page is a plain form. */

import { status } from "./dom.js";
import { fill, gettext } from "./language.js";
import { keepPage } from "./offline/pages.js";
import * as kept from "./offline/phone/kept.js";
import * as screen from "./offline/phone/screen.js";
import { QUEUE, askMachines, sendAll } from "./offline/phone/send.js";
import * as words from "./offline/phone/words.js";
import { Queue } from "./offline/queue.js";
import { standing } from "./offline/standing.js";
import { onChange } from "./offline/store.js";

const FRESH = 600000; // milliseconds for which the machines that this phone knows need not be asked for again

const page = document.querySelector(".phone");
const facts = JSON.parse(page.dataset.facts);
const form = page.querySelector("[data-entry]");
const code = decodeURIComponent(/^\/r\/([^/]+)$/.exec(location.pathname)?.[1] ?? "");
const opened = Date.now();
const now = { card: facts.card && kept.named(facts.card), cards: [], pageKept: null };
const queue = new Queue(QUEUE, sendAll, paint);

begin().catch((error) => {
  // Without a place to keep things the form is sent as it is, as without this script.
  form.removeEventListener("submit", submitted);
  status(page, { text: gettext("This browser can't keep entries: enter hours while you have signal."), kind: "warning" });
  console.error(error);
});

async function begin() {
  form.addEventListener("submit", submitted);
  form.elements.shows.addEventListener("input", doubted);
  page.querySelector("[data-find]").addEventListener("submit", found);
  onChange("entries", paint);
  queue.watch();
  window.addEventListener("online", catchUp);
  know((await kept.machinesOf(facts.member)).cards);
  if (code && !facts.card && !facts.unknown) screen.machine(page, now.card, code);
  await kept.tidy();
  await paint();
  await catchUp();
}

/** While there is a line: send what waits, hear of the machines, keep this page. */
async function catchUp() {
  await queue.send();
  await refresh();
  now.pageKept = await keepPage(facts.worker, facts.home, facts.scripts);
  await paint();
}

/** Take note of the machines that this phone knows. */
function know(cards) {
  now.cards = cards;
  now.card ??= cards.find((card) => card.code === plain(code)) ?? null;
  const list = page.querySelector("#known-machines");
  list.replaceChildren(...cards.map((card) => new Option(card.about, card.tag)));
}

/** A code as it is kept: as fleet/core/sticker_codes.py reads it. */
const plain = (typed) => typed.trim().toUpperCase().replace(/[- ]/g, "").replace(/O/g, "0").replace(/[IL]/g, "1");

/** Hear of this machine, and now and then of all, while there is a line. */
async function refresh() {
  try {
    const { at } = await kept.machinesOf(facts.member);
    const all = Date.now() - at > FRESH;
    const told = await askMachines(all ? "" : (now.card?.code ?? plain(code)) || "0");
    if (told.member !== facts.member) {
      location.reload(); // somebody else signed in since this page was made
      return;
    }
    if (all) {
      await kept.keepMachines(told);
      know(told.machines);
    }
    const card = told.machines.find((each) => each.code === (now.card?.code ?? plain(code)));
    if (card) screen.machine(page, (now.card = card), code);
  } catch {
    // no line, or signed out: what is known stays
  }
}

async function submitted(event) {
  event.preventDefault();
  const { meter, wrong } = words.readHours(form.elements.shows.value, facts.hours);
  screen.wrong(form, wrong);
  if (wrong) return;
  const entry = {
    id: crypto.randomUUID?.() ?? `${Date.now()}-${Math.random()}`,
    member: facts.member,
    name: facts.name,
    machine: now.card?.machine ?? null,
    code: now.card?.code ?? plain(code),
    tag: now.card?.tag ?? fill(gettext("Sticker {code}"), { code }),
    meter,
    at: Date.now(),
    note: form.elements.note.value.trim(),
    photo: form.elements.photo.files[0] ?? null,
    state: "waiting",
  };
  try {
    await kept.keep(entry);
  } catch {
    form.submit(); // no room here: the house may take it at once
    return;
  }
  form.reset();
  page.querySelector("[data-doubt]").textContent = "";
  await paint();
  await wake();
  await queue.send();
  await refresh();
}

/** Ask the browser to wake the service worker once the line is back, where it can. */
async function wake() {
  try {
    const worker = await navigator.serviceWorker?.getRegistration();
    await worker?.sync?.register(QUEUE);
  } catch {
    // not allowed here: the entry is sent when the page is open
  }
}

/** Say while it is typed that hours can hardly be right. */
async function doubted() {
  const { meter } = words.readHours(form.elements.shows.value, facts.hours);
  const said = meter ? words.doubt(meter, await before()) : "";
  page.querySelector("[data-doubt]").textContent = said;
}

/** The latest of what this phone knows of the machine's meter. */
async function before() {
  const { card } = now;
  if (!card) return null;
  const own = (await kept.all()).find((each) => each.machine === card.machine && each.state === "waiting");
  const told = card.read_at ? { meter: card.meter, at: Date.parse(card.read_at) } : null;
  return own && (!told || own.at > told.at) ? own : told;
}

/** Open the page of a machine this phone knows; else the house looks for it. */
function found(event) {
  const typed = event.target.elements.machine.value.trim();
  const card = now.cards.find((each) => each.code === plain(typed) || each.tag.toLowerCase() === typed.toLowerCase());
  if (!card && navigator.onLine) return;
  event.preventDefault();
  if (card) {
    location.assign(`${facts.home}${card.code}`);
    return;
  }
  const place = page.querySelector("[data-find-wrong]");
  place.hidden = false;
  place.textContent = gettext("This phone knows no machine with that code or fleet number. Scan its sticker, or try again with signal.");
}

async function paint() {
  const entries = await kept.all();
  const own = entries.filter((entry) => entry.member === facts.member);
  const others = entries.filter((entry) => entry.member !== facts.member && kept.waits(entry));
  screen.entries(page, own, others, (id) => kept.drop(id).then(paint));
  status(page, standing({
    waiting: own.filter(kept.waits).length,
    left: queue.left,
    news: words.arrived(own.filter((entry) => entry.sentAt > opened)),
    pageKept: now.pageKept,
    signIn: `${facts.sign_in}?next=${encodeURIComponent(location.pathname)}`,
  }));
}
