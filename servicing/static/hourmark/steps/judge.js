/* Judges what was typed, exactly and without a line: fractions of whole numbers, never rounded.

   The rules come with the page, as servicing/measurements/limits.py sends them, and so do the sentences. What is said here is
   what the house says when it records and closes; tests/servicing/measurements/rules.json is run through both. */

const PLACES = 6; // more can't be kept
const MOST = 10n ** 8n; // nor can this
const NUMBER = /^([-+]?)(\d+\.?\d*|\.\d+)$/;
const LIKE_THOUSANDS = /^[-+]?\d*,\d{3}$/;
const LONGEST = 40; // characters
const MINUTES = /^(\d{1,4}):([0-5]\d)$/;
const MEETS_THE_MARK = ["done", "adjusted"];

/** A sentence with its places filled in. */
const fill = (sentence, given) => sentence.replace(/\{(\w+)\}/g, (whole, name) => given[name] ?? whole);

const short = (text) => (text.length > LONGEST ? `${text.slice(0, LONGEST - 1)}…` : text);
const plain = (typed) => typed.replace(/[\s\u00a0\u202f]/g, "");

/** A fraction sent as text: "127/5", "-3". Denominators are positive. */
function fraction(text) {
  const [top, bottom = "1"] = text.split("/");
  return [BigInt(top), BigInt(bottom)];
}

const atLeast = ([a, b], [c, d]) => a * d >= c * b;

/** Read a number: {value: [numerator, denominator]}, or {wrong} where it can't be read or could be read in two ways. */
export function number(typed, sentences) {
  const text = plain(typed).replaceAll("\u2212", "-");
  const commas = text.split(",").length - 1;
  if (LIKE_THOUSANDS.test(text) || commas > 1 || (commas && text.includes("."))) {
    return { wrong: fill(sentences.two_ways, { typed: short(typed.trim()) }) };
  }
  const found = text.length > LONGEST ? null : NUMBER.exec(text.replace(",", "."));
  if (!found) return { wrong: fill(sentences.number, { typed: short(typed.trim()) }) };
  const [whole, tail = ""] = found[2].split(".");
  const places = tail.replace(/0+$/, "");
  const top = BigInt(`${whole}${places}`);
  const bottom = 10n ** BigInt(places.length);
  if (places.length > PLACES || top >= MOST * bottom) return { wrong: sentences.digits };
  return { value: [found[1] === "-" ? -top : top, bottom] };
}

/** Read whole minutes, 75 or 1:15: {minutes} or {wrong}. */
export function minutes(typed, sentences) {
  const clock = MINUTES.exec(plain(typed));
  if (clock) return { minutes: Number(clock[1]) * 60 + Number(clock[2]) };
  const { value } = number(typed, sentences);
  if (!value || value[1] !== 1n) return { wrong: sentences.minutes };
  return { minutes: Number(value[0]) };
}

/** Read and judge a value by the rule of its check: {passes} or {wrong}. */
export function judge(rule, typed, unit, sentences) {
  if (rule.words) {
    const passes = Object.hasOwn(rule.words, typed.trim()) ? rule.words[typed.trim()] : null;
    if (passes !== null) return { passes };
    return { wrong: fill(sentences.word, { words: Object.keys(rule.words).join(", ") }) };
  }
  const read = number(typed, sentences);
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
export function verdict(rule, found, left, sentences) {
  const last = left.value.trim() ? left : found;
  const { passes = null } = last.value.trim() ? judge(rule, last.value, last.unit, sentences) : {};
  if (passes === null) return { passed: null, said: "" };
  if (passes) return { passed: true, said: "Within limits." };
  if (rule.safety) return { passed: false, said: "Outside limits, a safety check. Stop: hang the tag and take the key." };
  return { passed: false, said: "Outside limits." };
}

/** What is missing or wrong with a line, as [[path, sentence]]; the order of things is the house's.

    line: {not_fitted, checks: {id: rule}}. entry: {outcome, reason, put_off_until, checks: {id: {found, found_unit,
    left, left_unit}}}. `finished`: as closing asks; else only what can't be kept at all. */
export function problems(line, entry, { today, finished, sentences }) {
  const found = [];
  const { outcome } = entry;
  if (finished && !outcome) found.push([["outcome"], sentences.outcome]);
  if (outcome === "left") {
    if (!entry.reason.trim()) found.push([["reason"], sentences.why_left]);
    if (!entry.put_off_until) found.push([["put_off_until"], sentences.until]);
    else if (entry.put_off_until <= today) found.push([["put_off_until"], sentences.until_later]);
  }
  if (outcome === "referred" && !entry.reason.trim()) found.push([["reason"], sentences.why_referred]);
  if (finished && outcome === "not fitted" && line.not_fitted) found.push([["outcome"], line.not_fitted]);
  const demanded = finished && MEETS_THE_MARK.includes(outcome);
  for (const [id, rule] of Object.entries(line.checks)) {
    const wrong = checkProblem(rule, entry.checks[id] ?? {}, { demanded, finished, sentences });
    found.push(...wrong.map(([moment, sentence]) => [["checks", Number(id), moment], sentence]));
  }
  return found;
}

function checkProblem(rule, entry, { demanded, finished, sentences }) {
  const read = (moment) => {
    const typed = entry[moment] ?? "";
    return typed.trim() ? judge(rule, typed, entry[`${moment}_unit`], sentences) : null;
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
