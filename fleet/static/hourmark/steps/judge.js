/* Judges what was just typed, exactly and without a line: fractions of whole numbers, never rounded.

   The same rules as the house's, which judges anew when it records: limits are inclusive, and a number is read
   with a point or a comma. Here it only helps the one who stands at the machine. */

const PLACES = 6; // more can't be kept
const NUMBER = /^([-+]?)(\d*)(?:\.(\d*))?$/;

/** The number as [numerator, denominator], or null where it can't be read or could be read in two ways. */
export function fraction(typed) {
  let text = typed.trim().replace(/[\s\u00a0\u202f]/g, "").replace("\u2212", "-");
  const parts = text.split(",");
  if (parts.length === 2) {
    if (text.includes(".") || parts[1].length === 3) return null;
    text = parts.join(".");
  }
  const found = NUMBER.exec(text);
  if (!found || !(found[2] || found[3])) return null;
  const [, sign, whole, tail = ""] = found;
  if (tail.length > PLACES) return null;
  const top = BigInt(`${whole}${tail}` || "0");
  return [sign === "-" ? -top : top, 10n ** BigInt(tail.length)];
}

function limit(text) {
  const [top, bottom = "1"] = text.split("/");
  return [BigInt(top), BigInt(bottom)];
}

const atLeast = ([a, b], [c, d]) => a * d >= c * b; // denominators are positive

/** Whether a value passes: true, false, or null where that can't be said here. */
export function passes(rule, typed, unit) {
  if (!typed.trim()) return null;
  if (rule.words) return rule.words[typed] ?? null;
  const value = fraction(typed);
  const limits = rule.units[unit];
  if (!value || !limits) return null;
  const [lower, upper] = limits;
  return (lower === null || atLeast(value, limit(lower))) && (upper === null || atLeast(limit(upper), value));
}

/** What to say beside a check: its verdict as left where that was entered, else as found. */
export function verdict(rule, found, left) {
  const last = left.value.trim() ? left : found;
  const passed = passes(rule, last.value, last.unit);
  if (passed === null) return { passed, said: "" };
  if (passed) return { passed, said: "Within limits." };
  if (rule.safety) return { passed, said: "Outside limits, a safety check. Stop: hang the tag and take the key." };
  return { passed, said: "Outside limits." };
}
