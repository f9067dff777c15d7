/* What the phone shows: one step, what waits to be sent, what is still open, what a value means. */

import { make } from "../../dom.js";
import { fill, gettext } from "../../language.js";
import { outcomeWord } from "../../outcomes.js";
import { refused } from "../standing.js";
import { at, groupOf, made, read } from "./fields.js";
import { showAside } from "./differ.js";
import { judge, verdict } from "./judge.js";
import { ended } from "./words.js";

export const section = (work, number) => work.querySelector(`[data-step="${number}"]`);

/** Show one step and hide the others; false where there is none of that number. */
export function show(work, number) {
  const wanted = section(work, number);
  if (!wanted) return false;
  for (const each of work.querySelectorAll("[data-step]")) each.hidden = each !== wanted;
  wanted.querySelector("h2").tabIndex = -1;
  work.querySelector(".work-open").open = false;
  window.scrollTo(0, 0);
  return true;
}

/** Say whether a check passes, beside it, from what stands in its fields. */
export function judged(work, facts, check) {
  const place = work.querySelector(`[data-verdict="${check}"]`);
  const value = (moment) => ({ value: read(`${check}-${moment}`), unit: read(`${check}-${moment}_unit`) });
  const { passed, said } = verdict(facts.judging[check], value("found"), value("left"), facts.rules);
  if (place.textContent !== said) place.textContent = said;
  place.classList.toggle("work-outside", passed === false);
}

/** The number of the step on which a field stands. */
export const stepOf = (work, name) => document.getElementsByName(name)[0]?.closest("[data-step]")?.dataset.step;

/** Lead to the first field that is wrong: of a line, or of what is shown. */
export function firstWrong(work, line) {
  const places = [...work.querySelectorAll("[data-step]:not([hidden]) [aria-invalid]")];
  (places.find((each) => !line || groupOf(each.name) === String(line)) ?? places[0])?.focus();
}

/** Lead to what a person is asked to choose. */
export const toChoice = (work) => work.querySelector(".work-differ h2").focus();

/** The typed values by which a check fails that keeps the machine from use; "" where none does. */
export function failed(facts, typed) {
  const fails = ([name, value]) => {
    const rule = facts.judging[/^(.*)-(?:found|left)$/.exec(name)?.[1]];
    return rule?.safety && value.trim() && judge(rule, value, at(typed, `${name}_unit`), facts.rules).passes === false;
  };
  return Object.entries(typed).filter(fails).map(String).join("; ");
}

/** What is deferred or referred needs its reason. */
export function whyOpen(radio) {
  if (["deferred", "referred"].includes(radio.value)) radio.form.querySelector("[data-why]").open = true;
}

/** Mark in the overview what came of each task, what waits on this phone, and what needs a look. */
export function overview(work, facts, kept) {
  const now = { ...kept.base, ...kept.typed };
  let open = 0;
  for (const { line } of facts.lines) {
    const name = `lines-${line}-outcome`;
    const outcome = at(now, name);
    const figure = work.querySelector(`[data-overview="${line}"]`);
    if (!outcome) open += 1;
    if ((figure.dataset.outcome ?? made(name)) !== outcome) {
      const word = outcome ? outcomeWord(outcome) : gettext("open");
      figure.replaceChildren(make("span", { className: "state state-plain" }, word));
      figure.dataset.outcome = outcome;
    }
    const waits = Object.keys(kept.typed).some((name) => groupOf(name) === String(line));
    const note = work.querySelector(`[data-kept-line="${line}"]`);
    note.hidden = !waits;
    note.textContent = gettext("Kept on this phone");
    if (Object.keys(kept.refused).some((name) => groupOf(name) === String(line))) {
      note.hidden = false;
      note.textContent = gettext("Not accepted: check it again");
    }
  }
  work.querySelector("[data-open-count]").textContent = String(open);
  const aside = work.querySelector("[data-aside]");
  if (aside) showAside(aside, kept.aside);
}

export function photos(work, waiting) {
  for (const list of work.querySelectorAll("[data-photos]")) {
    for (const old of list.querySelectorAll("[data-waiting]")) old.remove();
    for (const photo of waiting.filter((each) => String(each.line) === list.dataset.photos)) {
      const drop = make("button", { type: "button", className: "button button-quiet" }, gettext("Discard it"));
      drop.dataset.dropPhoto = photo.id;
      const said = photo.refused
        ? fill(gettext("Not sent: {why}"), { why: refused(photo.refused) })
        : fill(gettext("Photo kept on this phone ({name})."), { name: photo.name });
      const row = make("li", {}, said, " ", drop);
      row.dataset.waiting = "";
      list.append(row);
    }
  }
}

/** List the photos the house has by now. */
export function sentPhoto(work, line, url) {
  const list = work.querySelector(`[data-photos="${line}"]`);
  if (!list || list.querySelector(`a[href="${url}"]`)) return;
  list.append(make("li", {}, make("a", { href: url }, gettext("Photo, sent"))));
}

/** Say that the machine is tagged out, as soon as it is known. */
export function taggedOut(work, facts, reasons) {
  const place = work.querySelector("[data-tag-outs]");
  if (place.querySelectorAll(".verdict-stop").length === reasons.length) return;
  const signs = work.querySelector("[data-must-not-run]")?.content; // a page kept by an earlier version has none
  const stay = fill(gettext("Hang the tag on it and take the key. Do not use {tag} until it is cleared."), { tag: facts.tag });
  place.replaceChildren(
    ...reasons.map((reason) =>
      make("div", { className: "verdict verdict-stop" },
        make("span", { className: "state state-stop" }, gettext("tagged out")),
        make("p", { className: "verdict-why" }, `${ended(reason)} ${stay}`),
        signs?.cloneNode(true) ?? "",
      ),
    ),
  );
}
