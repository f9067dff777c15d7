/* Two people, one order: what the other recorded meanwhile, beside what was typed here. */

import { make } from "../../dom.js";
import { fill, gettext, marked, moment } from "../../language.js";
import { outcomeWord } from "../../outcomes.js";
import { at, groupOf, wordOf } from "./fields.js";

const FIGURE = /^-?\d+\.\d+$/; // as the house writes one

/** Sort what changed. `clashes`: by line, where both entered something else; `changes`: only the other did. */
export function compare(kept, theirs) {
  const fields = [...new Set([...Object.keys(kept.base), ...Object.keys(theirs), ...Object.keys(kept.typed)])]
    .filter((name) => !name.endsWith("_unit"));
  const agreed = (name) => name in kept.typed && both(kept.typed, name) === both(theirs, name);
  const moved = fields.filter((name) => both(theirs, name) !== both(kept.base, name) && !agreed(name));
  const mine = fields.filter((name) => name in kept.typed && both(kept.typed, name) !== both(theirs, name));
  const groups = new Set(moved.map(groupOf));
  const clashes = new Map();
  for (const name of mine.filter((each) => groups.has(groupOf(each)))) {
    const group = groupOf(name);
    clashes.set(group, [...new Set([...moved, ...mine])].filter((each) => groupOf(each) === group));
  }
  return { clashes, changes: moved.filter((name) => !clashes.has(groupOf(name))) };
}

/** An order that takes nothing more: everything typed is to be shown beside what is recorded. */
export function addTyped(clashes, kept, theirs) {
  for (const name of Object.keys(kept.typed).filter((each) => !each.endsWith("_unit"))) {
    if (both(kept.typed, name) === both(theirs, name)) continue;
    const names = clashes.get(groupOf(name)) ?? [];
    if (!names.includes(name)) clashes.set(groupOf(name), [...names, name]);
  }
}

/** A value with its unit. */
export const both = (values, name) => [at(values, name), at(values, `${name}_unit`)].filter(Boolean).join(" ");

/** The same in words, as the reader writes figures; "" where there is none. */
export function said(values, name) {
  const value = at(values, name);
  if (name.endsWith("-outcome")) return outcomeWord(value);
  if (/-(found|left)$/.test(name) && value && wordOf(name, value)) return wordOf(name, value);
  const isFigure = /-(found|left|quantity)$/.test(name) && FIGURE.test(value);
  return isFigure ? marked(both(values, name)) : both(values, name);
}

/** Show who did what; `choose(group, "mine" | "theirs")` is called once for each line that clashes. */
export function show(place, { facts, kept, theirs, clashes, changes, why, order, canSend, choose, seen }) {
  const title = make("h2", { tabIndex: -1 }, gettext("The order was changed meanwhile"));
  const parts = [title, make("p", {}, why)];
  for (const [group, names] of clashes) {
    parts.push(clash({ facts, kept, theirs, group, names, order, canSend, choose }));
  }
  if (changes.length) {
    const list = changes.map((name) => make("li", {}, `${labelOf(facts, name)}: ${said(theirs, name) || gettext("nothing")}`));
    parts.push(make("h3", {}, gettext("Changed where you typed nothing")), make("ul", {}, ...list));
  }
  if (!clashes.size) parts.push(make("div", { className: "actions" }, button(gettext("Seen"), seen)));
  place.replaceChildren(make("section", { className: "work-differ" }, ...parts));
  title.focus();
}

function clash({ facts, kept, theirs, group, names, order, canSend, choose }) {
  const [recorded, own] = [gettext("Recorded now"), gettext("Typed by you")];
  const head = [gettext("Entry"), recorded, own].map((word) => make("th", { scope: "col" }, word));
  const rows = names.map((name) =>
    make("tr", {},
      make("th", { scope: "row" }, labelOf(facts, name)),
      cell(recorded, said(theirs, name) || gettext("nothing"), whoOf(order, name)),
      cell(own, typed(kept, theirs, name)),
    ),
  );
  const section = make("div", { className: "work-clash" },
    make("h3", {}, titleOf(facts, group)),
    make("table", { className: "table table-stack" }, make("thead", {}, make("tr", {}, ...head)), make("tbody", {}, ...rows)),
  );
  const done = (choice) => {
    const stands = choice === "mine"
      ? gettext("{title}: what you typed is sent.")
      : gettext("{title}: what is recorded is kept; what you typed is set aside below.");
    section.replaceChildren(make("p", {}, fill(stands, { title: titleOf(facts, group) })));
    choose(group, choice);
  };
  const actions = make("div", { className: "actions" }, button(gettext("Keep theirs"), () => done("theirs")));
  if (canSend) actions.prepend(button(gettext("Replace with mine"), () => done("mine"), "button button-primary"));
  section.append(actions);
  return section;
}

/** What was typed and given up for somebody else's entry: still to be read, and copied. */
export function showAside(place, aside) {
  if (!aside.length) return place.replaceChildren();
  const rows = aside.map(({ label, value }) => make("li", {}, `${label}: ${value}`));
  return place.replaceChildren(make("h3", {}, gettext("Set aside: you typed")), make("ul", {}, ...rows));
}

/** What was typed, or what becomes of the entry if yours stands. */
function typed(kept, theirs, name) {
  if (name in kept.typed && both(kept.typed, name)) return said(kept.typed, name);
  return both(theirs, name) ? gettext("nothing, so what is recorded stays") : gettext("nothing");
}

/** Who entered what is recorded, and when: of a check its own values, else what came of the line. */
function whoOf(order, name) {
  const [, line, check] = /^lines-(\d+)-(?:checks-(\d+)-)?/.exec(name) ?? [];
  const recorded = order?.lines.find((each) => String(each.id) === line);
  const entry = check ? recorded?.results.find((each) => String(each.check) === check) : recorded;
  if (!entry?.recorded_by) return "";
  return `${entry.recorded_by}, ${moment(new Date(entry.recorded_at))}`;
}

export const labelOf = (facts, name) => facts.labels[name] ?? name;
const titleOf = (facts, group) => facts.lines.find(({ line }) => String(line) === group)?.title ?? gettext("Time and parts");
const cell = (label, text, who = "") => {
  const note = who ? [make("br", {}), make("span", { className: "quiet" }, who)] : [];
  const made = make("td", {}, make("span", {}, text, ...note));
  made.dataset.label = label;
  return made;
};

function button(text, act, className = "button") {
  const made = make("button", { type: "button", className }, text);
  made.addEventListener("click", act);
  return made;
}
