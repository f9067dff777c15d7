/* What the page behind a sticker shows: the machine, what was entered on this phone, and what is wrong. */

import { make } from "../../dom.js";
import { fill, gettext, moment } from "../../language.js";
import { refused } from "../standing.js";
import { hours } from "./words.js";

/** Fill the page in for a machine as this phone knows it; without a card for a code that it doesn't know. */
export function machine(page, card, code) {
  const shown = card ?? {
    tag: fill(gettext("Sticker {code}"), { code }),
    about: gettext("This phone doesn't know this machine yet. Enter the hours: they are matched when you have signal."),
    last: gettext("not known here"),
    due: gettext("not known here"),
    overdue: false,
  };
  for (const name of ["tag", "about", "last", "due"]) document.querySelector(`[data-${name}]`).textContent = shown[name];
  page.querySelector("[data-overdue]").hidden = !(shown.overdue ?? shown.past); // past: kept by the version before
  page.querySelector("[data-machine]").hidden = false;
  page.querySelector("[data-find-title]")?.replaceChildren(gettext("Another machine"));
  document.title = `${fill(gettext("{tag}: hours"), { tag: shown.tag })} · Hourmark`;
}

/** Say beside the number what is wrong with it; "" where nothing is. */
export function wrong(form, sentence) {
  const input = form.elements.shows;
  document.getElementById("shows-wrong")?.remove();
  input.toggleAttribute("aria-invalid", false);
  if (!sentence) return;
  input.setAttribute("aria-invalid", "true");
  input.setAttribute("aria-describedby", "shows-wrong");
  input.closest(".field").prepend(make("p", { className: "wrong", id: "shows-wrong", role: "alert" }, sentence));
  input.focus();
}

/** List this member's entries, and say how many others left here. `drop` is called with an entry's id. */
export function entries(page, own, others, drop) {
  page.querySelector("[data-entries-section]").hidden = !own.length && !others.length;
  page.querySelector("[data-entries]").replaceChildren(...own.map((entry) => row(page, entry, drop)));
  const place = page.querySelector("[data-others]");
  place.hidden = !others.length;
  const names = [...new Set(others.map((entry) => entry.name))].join(", ");
  const said = gettext("Also on this phone, until they sign in: {n} of {names}.");
  place.textContent = others.length ? fill(said, { n: others.length, names }) : "";
}

function row(page, entry, drop) {
  const mark = page.querySelector(`[data-mark="${entry.state}"]`).content.cloneNode(true);
  const made = make("li", { className: "entry" },
    make("div", { className: "entry-title" }, `${entry.tag} ${hours(entry.meter)}`),
    make("div", { className: "entry-figure" }, mark),
    make("div", { className: "entry-note" }, `${fill(gettext("Read {moment}."), { moment: moment(entry.at) })} ${told(entry)}`),
  );
  const actions = [];
  if (entry.state === "held") actions.push(make("a", { className: "button", href: entry.page }, gettext("Look at it")));
  if (["waiting", "refused"].includes(entry.state)) {
    const button = make("button", { type: "button", className: "button button-quiet" }, gettext("Discard it"));
    button.addEventListener("click", () => drop(entry.id));
    actions.push(button);
  }
  if (actions.length) made.append(make("div", { className: "entry-actions" }, ...actions));
  return made;
}

function told(entry) {
  let photo = "";
  if (entry.photo) photo = entry.state === "waiting" ? gettext("With a photo.") : gettext("Its photo waits.");
  if (entry.photoSent) photo = gettext("Photo sent.");
  if (entry.photoSaid) photo = fill(gettext("Photo not kept: {why}"), { why: refused(entry.photoSaid) });
  return [entry.note && `${entry.note}.`, refused(entry.said ?? ""), photo].filter(Boolean).join(" ");
}
