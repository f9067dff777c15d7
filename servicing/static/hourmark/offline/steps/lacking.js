/* What a step, or the whole order, lacks: asked at the machine, before anything is sent. */

import { at } from "./fields.js";
import { minutes, problems } from "./judge.js";
import { lineOf } from "./send.js";

/** What is missing or wrong with a line, as [[field, sentence]]; once something came of it, all that closing asks. */
export function ofLine(facts, values, number, { closing = false } = {}) {
  const line = facts.lines.find((each) => String(each.line) === String(number));
  if (!line) return [];
  const where = `lines-${line.line}`;
  const entered = lineOf(values, line);
  const entry = { ...entered, checks: Object.fromEntries(entered.checks.map((each) => [each.check, each])) };
  const checks = Object.fromEntries(line.checks.map((check) => [check, facts.judging[`${where}-checks-${check}`]]));
  const { today, rules } = facts;
  const finished = closing || Boolean(entry.outcome);
  return problems({ not_fitted: line.not_fitted, checks }, entry, { today, finished, rules }).map(
    ([path, sentence]) => [`${where}-${path.join("-")}`, sentence],
  );
}

const CHOSEN = [
  ["further", ["part", "part"], ["quantity", "quantity"]],
  ["helper", ["technician", "technician"], ["minutes", "worked"]],
];

/** What is missing in rows that closing takes, where one half was entered without the other. */
function ofChosen(values, sentences) {
  const found = [];
  for (const [row, ...halves] of CHOSEN) {
    const entered = (number, name) => at(values, `${row}-${number}-${name}`).trim();
    const numbers = new Set(Object.keys(values).map((name) => new RegExp(`^${row}-(\\d+)-`).exec(name)?.[1]));
    for (const number of numbers) {
      const missing = halves.filter(([name]) => !entered(number, name));
      if (missing.length !== 1) continue;
      const [[name, sentence]] = missing;
      found.push([`${row}-${number}-${name}`, sentences[sentence]]);
    }
  }
  return found;
}

/** The same of the order's end: minutes, and at closing the hours and the rows chosen from a list. */
export function ofEnd(facts, values, { closing = false } = {}) {
  const found = [];
  for (const [name, value] of Object.entries(values)) {
    if (!/-minutes$/.test(name) || !value.trim()) continue;
    const { wrong } = minutes(value, facts.rules);
    if (wrong) found.push([name, wrong]);
  }
  if (!closing) return found;
  if (!at(values, "hours").trim()) found.push(["hours", facts.rules.sentences.hours]);
  return [...found, ...ofChosen(values, facts.rules.sentences)];
}

/** The same of everything. */
export const ofAll = (facts, values) => [
  ...facts.lines.flatMap(({ line }) => ofLine(facts, values, line, { closing: true })),
  ...ofEnd(facts, values, { closing: true }),
];
