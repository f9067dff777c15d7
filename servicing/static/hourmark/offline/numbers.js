/* Reads a number that a person typed, by the rules that come with the page (fleet/core/number_reader.py). */

const whole = (pattern, text) => new RegExp(`^(?:${pattern})$`).test(text);

/** {text}: its figures, with a point; {why}: the rule's name where it is no number, or can be read in two ways. */
export function readNumber(typed, { plain, two_ways, longest }) {
  const text = typed.replace(/\s/g, "").replaceAll("\u2212", "-");
  if (whole(two_ways, text)) return { why: "two_ways" };
  if (text.length > longest || !whole(plain, text)) return { why: "number" };
  return { text: text.replace(",", ".") };
}

/** The parts of a number that was read: {minus, before, after} the point, without zeros in front. */
export function parts(text) {
  const [, minus, before, after = ""] = /^\+?(-?)0*(\d*)\.?(\d*)$/.exec(text);
  return { minus: Boolean(minus), before, after };
}
