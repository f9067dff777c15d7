/* The work step by step on a phone: shows one step at a time, keeps what is typed, sends it when there is a line.

   What is typed is kept at once; a step's entries are sent when the step is left, so that half a number is
   never judged. Without this script each step is a form of its own. */

import { status } from "./dom.js";
import { gettext } from "./language.js";
import { keepPage } from "./offline/pages.js";
import * as fields from "./offline/steps/fields.js";
import { change, dropPhoto, keepPhoto, keyOf, load } from "./offline/steps/kept.js";
import * as lacking from "./offline/steps/lacking.js";
import { Messenger } from "./offline/steps/messenger.js";
import * as screen from "./offline/steps/screen.js";

const PATIENCE = 6000; // milliseconds that a step waits for an answer before the next one is shown

const work = document.querySelector(".work");
const facts = JSON.parse(work.dataset.facts);
const key = keyOf(facts);
const fresh = { order: facts.order, base: fields.given(), revision: facts.revision, typed: {}, refused: {}, aside: [], closing: 0 };
const keep = (edit) => change(key, fresh, edit);
const messenger = new Messenger({ work, facts, key, keep, leave: () => location.assign(facts.page) });

if (facts.whole) {
  begin().catch((error) => {
    // Without a place to keep things, the forms work one by one, as they do without this script.
    status(work, { text: gettext("This browser can't keep entries: save each step while you have signal."), kind: "warning" });
    console.error(error);
  });
}

async function begin() {
  const kept = await load(key);
  if (kept) fill(kept);
  for (const [name, sentence] of Object.entries(kept?.refused ?? {})) fields.wrong(name, sentence);
  work.addEventListener("input", typed);
  work.addEventListener("change", (event) => (event.target.dataset.photo ? photographed(event.target) : typed(event)));
  work.addEventListener("click", clicked);
  work.addEventListener("submit", submitted);
  window.addEventListener("popstate", () => show(asked() || 1));
  messenger.watch();
  for (const name of Object.keys(facts.judging)) screen.judged(work, facts, name);
  await show(asked() || kept?.step || 1);
  if (kept) await messenger.catchUp(kept, fresh);
  await messenger.send();
  messenger.pageKept(await keepPage(facts.worker, location.pathname, facts.scripts));
}

/** Show what is kept: what was recorded when last heard of, and what was typed over it. */
function fill(kept) {
  const known = kept.revision >= facts.revision ? kept.base : {};
  for (const [name, value] of Object.entries({ ...known, ...kept.typed })) fields.write(name, value);
}

function typed(event) {
  const { target } = event;
  if (!fields.isEntry(target)) return;
  const names = fields.pairOf(target.name);
  messenger.touched(fields.groupOf(target.name));
  fields.right(target.name);
  const entry = Object.fromEntries(names.map((name) => [name, fields.read(name)]));
  keep((kept) => {
    const asRecorded = names.every((name) => entry[name] === fields.at(kept.base, name)) && !target.dataset.proposed;
    for (const name of names) {
      delete kept.refused[name];
      if (asRecorded) delete kept.typed[name];
      else kept.typed[name] = entry[name];
    }
  }).then((kept) => messenger.paint(kept));
  const check = /^(lines-\d+-checks-\d+)-/.exec(target.name)?.[1];
  if (check) screen.judged(work, facts, check);
  if (target.name.endsWith("-outcome")) screen.whyOpen(target);
}

async function photographed(input) {
  for (const blob of input.files) {
    const id = `${Date.now()}-${Math.random()}`;
    await keepPhoto({ id, key, line: Number(input.dataset.photo), blob, name: blob.name || "photo.jpg" });
  }
  input.value = "";
  await messenger.paint();
}

function clicked(event) {
  const drop = event.target.closest("[data-drop-photo]");
  if (drop) dropPhoto(drop.dataset.dropPhoto).then(() => messenger.paint());
  const link = event.target.closest("a[data-go]");
  if (!link || !screen.section(work, link.dataset.go)) return;
  event.preventDefault();
  go(Number(link.dataset.go));
}

async function submitted(event) {
  event.preventDefault();
  const button = event.submitter;
  if (button?.dataset.go) await goOn(button);
  else await finish(button?.dataset.close !== undefined);
}

/** Save a step and go on to the next, unless the house, or what it would say at closing, keeps the person here,
   or the person is asked what is to stand of it.

   Who went elsewhere while the house was asked stays there. */
async function goOn(button) {
  const { line = "" } = button.closest("[data-step]").dataset;
  await messenger.looked(line);
  await inTime(messenger.send({ all: true }));
  const kept = await keep(() => {});
  await messenger.lacks(line, lacking.ofLine(facts, { ...kept.base, ...kept.typed }, line));
  if (messenger.visible !== line) return;
  if (messenger.asks(line)) return screen.toChoice(work);
  if (await messenger.refuses(line)) screen.firstWrong(work, line);
  else await go(Number(button.dataset.go));
}

/** Save the end of the order, or close it. What can't be closed is sent all the same, as work that goes on. */
async function finish(closing) {
  const extra = closing ? fields.proposed() : {};
  const kept = await keep((now) => {
    for (const [name, value] of Object.entries(extra)) now.typed[name] ??= value;
  });
  const values = { ...kept.base, ...kept.typed };
  const wrong = closing ? lacking.ofAll(facts, values) : lacking.ofEnd(facts, values);
  await keep((now) => { now.closing = closing && !wrong.length ? Date.now() : 0; });
  messenger.touched("end");
  await messenger.looked(null);
  await messenger.send({ all: true });
  if (!wrong.length) return;
  await messenger.lacks(null, wrong);
  await show(screen.stepOf(work, wrong[0][0]));
  screen.firstWrong(work, null);
}

const inTime = (answer) => Promise.race([answer, new Promise((late) => setTimeout(late, PATIENCE))]);

function asked() {
  return Number(new URLSearchParams(location.search).get("step")) || 0;
}

async function go(number) {
  history.pushState(null, "", `?step=${number}`);
  await show(number);
  screen.section(work, number)?.querySelector("h2").focus();
  await messenger.send();
}

async function show(number) {
  if (!screen.show(work, number)) return;
  messenger.visible = screen.section(work, number).dataset.line ?? "";
  await keep((kept) => { kept.step = number; });
}
