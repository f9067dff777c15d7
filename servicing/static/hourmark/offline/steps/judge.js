/* Judges what was typed, exactly and without a line: fractions of whole numbers, never rounded.

   The rules come with the page, as servicing/measurements/limits.py and servicing/workorders/judging.py send
   them, and so do the sentences. What is said here is what the house says when it records and closes;
   tests/servicing/measurements/rules.json is run through both. */

import { whyDeferred } from "../../former_names.js";
import { fill, gettext } from "../../language.js";
import { parts, readNumber } from "../numbers.js";

const short = (text, longest) => (text.length > longest ? `${text.slice(0, longest - 1)}…` : text);

/** A fraction sent as text: "127/5", "-3". Denominators are positive. */
function fraction(text) {
  const [top, bottom = "1"] = text.split("/");
  return [BigInt(top), BigInt(bottom)];
}

const atLeast = ([a, b], [c, d]) => a * d >= c * b;

/** Read a number: {value: [numerator, denominator]}, or {wrong} where it can't be read or could be read in two ways. */
export function number(typed, rules) {
  const { text, why } = readNumber(typed, rules.number);
  if (why) return { wrong: fill(rules.sentences[why], { typed: short(typed.trim(), rules.number.longest) }) };
  const { minus, before, after } = parts(text);
  const places = after.replace(/0+$/, "");
  if (places.length > rules.places || before.length > rules.digits) return { wrong: rules.sentences.digits };
  const top = BigInt(`${before}${places}`);
  return { value: [minus ? -top : top, 10n ** BigInt(places.length)] };
}

/** Read whole minutes, 75 or 1:15: {minutes} or {wrong}. */
export function minutes(typed, rules) {
  const clock = new RegExp(`^${rules.minutes}$`).exec(typed.replace(/\s/g, ""));
  if (clock) return { minutes: Number(clock[1]) * 60 + Number(clock[2]) };
  const { value } = number(typed, rules);
  if (!value || value[1] !== 1n) return { wrong: rules.sentences.minutes };
  return { minutes: Number(value[0]) };
}

/** Read and judge a value by the rule of its check: {passes} or {wrong}. */
export function judge(rule, typed, unit, rules) {
  const { sentences } = rules;
  if (rule.words) {
    const passes = Object.hasOwn(rule.words, typed.trim()) ? rule.words[typed.trim()] : null;
    if (passes !== null) return { passes };
    return { wrong: fill(sentences.word, { words: Object.keys(rule.words).join(", ") }) };
  }
  const read = number(typed, rules);
  if (read.wrong) return read;
  const line = rule.units[unit || rule.unit];
  if (!line) return { wrong: fill(sentences.unit, { unit: rule.unit, known: Object.keys(rule.units).join(", ") }) };
  const value = converted(read.value, ...line.map(fraction));
  const { lower, upper } = rule;
  const passes =
    (lower === null || atLeast(value, fraction(lower))) && (upper === null || atLeast(fraction(upper), value));
  return { passes };
}

/** zero + value × one, as fractions. */
const converted = ([a, b], [zero, zeroOf], [one, oneOf]) => [zero * b * oneOf + a * one * zeroOf, zeroOf * b * oneOf];

/** What to say beside a check: its verdict as left where that was entered, else as found. */
export function verdict(rule, found, left, rules) {
  const last = left.value.trim() ? left : found;
  const { passes = null } = last.value.trim() ? judge(rule, last.value, last.unit, rules) : {};
  if (passes === null) return { passed: null, said: "" };
  if (passes) return { passed: true, said: gettext("Within limits.") };
  if (!rule.safety) return { passed: false, said: gettext("Outside limits.") };
  return { passed: false, said: gettext("Outside limits on a safety check. Stop: hang the tag and take the key.") };
}

/** What is missing or wrong with a line, as [[path, sentence]]; the order of things is the house's.

    line: {not_fitted, checks: {id: rule}}. entry: {outcome, reason, deferred_until, checks: {id: {found, found_unit,
    left, left_unit}}}. `finished`: as closing asks; else only what can't be kept at all. */
export function problems(line, entry, { today, finished, rules }) {
  const found = [];
  const { outcome } = entry;
  const { sentences } = rules;
  if (finished && !outcome) found.push([["outcome"], sentences.outcome]);
  if (outcome === "deferred") {
    if (!entry.reason.trim()) found.push([["reason"], whyDeferred(sentences)]);
    if (!entry.deferred_until) found.push([["deferred_until"], sentences.until]);
    else if (entry.deferred_until <= today) found.push([["deferred_until"], sentences.until_later]);
  }
  if (outcome === "referred" && !entry.reason.trim()) found.push([["reason"], sentences.why_referred]);
  if (finished && outcome === "not fitted" && line.not_fitted) found.push([["outcome"], line.not_fitted]);
  const demanded = finished && rules.meets_the_mark.includes(outcome);
  for (const [id, rule] of Object.entries(line.checks)) {
    const wrong = checkProblem(rule, entry.checks[id] ?? {}, { demanded, finished, rules });
    found.push(...wrong.map(([moment, sentence]) => [["checks", Number(id), moment], sentence]));
  }
  return found;
}

function checkProblem(rule, entry, { demanded, finished, rules }) {
  const { sentences } = rules;
  const read = (moment) => {
    const typed = entry[moment] ?? "";
    return typed.trim() ? judge(rule, typed, entry[`${moment}_unit`], rules) : null;
  };
  const [found, left] = [read("found"), read("left")];
  const unread = [["found", found], ["left", left]].filter(([, each]) => each?.wrong);
  if (unread.length) return unread.map(([moment, { wrong }]) => [moment, wrong]);
  if (!found && !left) return demanded ? [["found", sentences.found]] : [];
  if (!found) return finished ? [["found", sentences.found_first]] : [];
  if (!demanded || found.passes && !left) return [];
  if (!found.passes && !left) return [["left", sentences.left]];
  return left.passes || rule.grave ? [] : [["left", sentences.still_out]];
}
