/* Sends what was typed on an order to the house. */

import * as house from "../ask.js";
import { readNumber } from "../numbers.js";
import { at } from "./fields.js";

export const order = (facts) => house.ask(facts.api);

export const send = (facts, body, closing) => house.send(`${facts.api}/${closing ? "close" : "record"}`, body);

export const sendPhoto = (facts, photo) =>
  house.sendPhoto(`${facts.api}/lines/${photo.line}/photos`, photo.blob, photo.name);

/** The body of a request that records these values, or closes with them. `closing`: when that was asked, or 0.

   How long ago is told rather than when: a phone's clock may be wrong, its seconds are not. */
export function bodyOf(facts, values, revision, closing) {
  const body = {
    revision,
    lines: facts.lines.map((line) => lineOf(values, line)),
    parts: rows(facts, values, "parts", "further", "part", "quantity", closing),
    labour: rows(facts, values, "labour", "helper", "technician", "minutes", closing),
  };
  if (closing) {
    body.hours = figure(facts, at(values, "hours"));
    body.hours_confirmed = Boolean(at(values, "hours_confirmed"));
    body.finished_seconds_ago = Math.max(0, Math.round((Date.now() - closing) / 1000));
  }
  return body;
}

const OF_A_CHECK = ["found", "found_unit", "left", "left_unit"];

/** What was entered for a line, its checks included. */
export function lineOf(values, { line, checks }) {
  const where = `lines-${line}`;
  return {
    line,
    outcome: at(values, `${where}-outcome`),
    reason: at(values, `${where}-reason`),
    deferred_until: at(values, `${where}-deferred_until`) || null,
    note: at(values, `${where}-note`),
    checks: checks.map((check) => ({
      check,
      ...Object.fromEntries(OF_A_CHECK.map((name) => [name, at(values, `${where}-checks-${check}-${name}`)])),
    })),
  };
}

const typedIn = new WeakMap(); // for a row that is sent: the fields it was typed in

/** Rows of parts or minutes: those the page knows by id, and at closing those chosen from a list. */
function rows(facts, values, known, chosen, id, amount, closing) {
  const found = [];
  for (const [name, value] of Object.entries(values)) {
    const own = new RegExp(`^${known}-(\\d+)-${amount}$`).exec(name);
    const other = new RegExp(`^${chosen}-(\\d+)-${amount}$`).exec(name);
    const choice = other ? `${chosen}-${other[1]}-${id}` : name;
    const which = own?.[1] ?? (closing && other ? at(values, choice) : "");
    if (!which || !value.trim()) continue;
    const row = { [id]: Number(which), [amount]: figure(facts, value) };
    typedIn.set(row, { [id]: choice, [amount]: name });
    found.push(row);
  }
  return found;
}

/** A number as the API reads it, with a point; what can't be read stays as it is: the API refuses it. */
const figure = (facts, typed) => readNumber(typed, facts.rules.number).text ?? typed.replace(/\s/g, "");

/** The name of the field that a JSON pointer into the body means; "" where it means none. */
export function fieldAt(pointer, body) {
  const [list, place, name, inner, last] = pointer.replace(/^#\//, "").split("/");
  const row = body[list]?.[place];
  if (list === "lines" && row) {
    const check = name === "checks" ? row.checks[inner] : null;
    return check ? `lines-${row.line}-checks-${check.check}-${last ?? "found"}` : `lines-${row.line}-${name}`;
  }
  if (list === "parts" && row) return typedIn.get(row)[name ?? "quantity"];
  if (list === "labour" && row) return typedIn.get(row)[name ?? "minutes"];
  return list;
}
