/* The fields of the page, and what is recorded, as plain values by the name of the field. */

import { make } from "../../dom.js";
import { fill, gettext, marked } from "../../language.js";

const NOT_ENTRIES = new Set(["csrfmiddlewaretoken", "revision", "shown", "asked", "photo", "save", "close", ""]);

export const at = (values, name) => values[name] ?? "";

/** The line a field belongs to, as text; "end" for hours, minutes and parts. */
export const groupOf = (name) => /^lines-(\d+)-/.exec(name)?.[1] ?? "end";

/** The names that belong together: a value and its unit. */
export function pairOf(name) {
  const value = name.replace(/_unit$/, "");
  return [value, `${value}_unit`].filter((each) => controls(each).length);
}

export const isEntry = (element) => Boolean(element.name) && !NOT_ENTRIES.has(element.name);

const controls = (name) => [...document.getElementsByName(name)];

/** What stands in a field now. A unit without a value says nothing. */
export function read(name) {
  if (name.endsWith("_unit") && !read(name.replace(/_unit$/, ""))) return "";
  const [first] = controls(name);
  return first && ticks(first) ? ticked(controls(name), "checked") : (first?.value ?? "");
}

const ticks = ({ type }) => ["radio", "checkbox"].includes(type);
const ticked = (elements, how) => elements.find((each) => each[how])?.value ?? "";

/** The word at which a value is chosen; undefined where it isn't chosen. */
export function wordOf(name, value) {
  const chosen = controls(name).find((each) => each.type === "radio" && each.value === value);
  if (chosen) return chosen.labels[0]?.textContent.trim();
  const options = controls(name).flatMap((each) => [...(each.options ?? [])]);
  return options.find((each) => each.value === value)?.text;
}

/** Put a value into a field; an empty unit leaves the limit's own unit chosen. */
export function write(name, value) {
  for (const element of controls(name)) {
    if (element.type === "radio") element.checked = element.value === value;
    else if (element.type === "checkbox") element.checked = Boolean(value);
    else if (!(name.endsWith("_unit") && !value)) element.value = value;
  }
}

/** The names of all fields on the page. */
export function names() {
  const all = [...document.querySelectorAll(".work input, .work select, .work textarea")];
  return [...new Set(all.filter(isEntry).map((element) => element.name))];
}

/** What the house had recorded when it made this page; what it proposes isn't recorded. */
export function given() {
  const values = {};
  for (const name of names()) values[name] = made(name);
  for (const name of names()) {
    if (name.endsWith("_unit") && !values[name.replace(/_unit$/, "")]) values[name] = "";
  }
  return values;
}

/** What a field was made with. */
export function made(name) {
  const elements = controls(name);
  const [first] = elements;
  if (!first || first.dataset.proposed) return "";
  if (ticks(first)) return ticked(elements, "defaultChecked");
  if (first.tagName === "SELECT") return [...first.options].find((each) => each.defaultSelected)?.value ?? "";
  return first.defaultValue;
}

/** What the page proposes, as it stands now. */
export function proposed() {
  const elements = [...document.querySelectorAll(".work [data-proposed]")];
  return Object.fromEntries(elements.map((element) => [element.name, element.value]));
}

/** What is recorded of an order, from the API's answer. */
export function recorded(order) {
  const values = {};
  for (const line of order.lines) {
    const where = `lines-${line.id}`;
    values[`${where}-outcome`] = line.outcome;
    values[`${where}-reason`] = line.reason;
    values[`${where}-deferred_until`] = line.deferred_until ?? "";
    values[`${where}-note`] = line.note;
    for (const result of line.results) {
      for (const moment of ["found", "left"]) {
        const name = `${where}-checks-${result.check}-${moment}`;
        values[name] = shown(result[`${moment}_value`]) || result[`${moment}_word`];
        values[`${name}_unit`] = result[`${moment}_unit`];
      }
    }
  }
  for (const use of order.parts) values[`parts-${use.part}-quantity`] = shown(use.quantity);
  for (const row of order.labour) values[`labour-${row.technician}-minutes`] = String(row.minutes);
  return values;
}

/** A number of the API as the page writes it, without padding: 7.500000 is 7.5, or 7,5. */
function shown(number) {
  if (number === null) return "";
  return marked(number.includes(".") ? number.replace(/\.?0+$/, "") : number);
}

// ---- what is wrong with a field, beside it

export function wrong(name, sentence) {
  const [first] = controls(name);
  if (!first) return null;
  right(name);
  const said = make("p", { className: "wrong", id: `wrong-${name}` }, fill(gettext("Not accepted: {why}"), { why: sentence }));
  const box = first.closest(".check-value, .field");
  box.append(said);
  box.closest("details")?.setAttribute("open", "");
  for (const each of controls(name)) {
    each.setAttribute("aria-invalid", "true");
    each.setAttribute("aria-describedby", said.id);
  }
  return first.closest("[data-step]");
}

export function right(name) {
  document.getElementById(`wrong-${name}`)?.remove();
  for (const each of controls(name)) {
    each.removeAttribute("aria-invalid");
    each.removeAttribute("aria-describedby");
  }
}
