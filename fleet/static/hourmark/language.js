/* The language of the page, and how it writes figures and moments.

   A sentence is written in English where it is said. What it is in the page's language comes with the page, in
   a block of data that fleet/templatetags/script_words.py makes; an English page has none. Nor has a service
   worker, which has no page: what it keeps is said in words by the page that shows it. */

const page = globalThis.document;
const block = page?.getElementById("catalogue");
const { messages = {}, forms = "" } = block ? JSON.parse(block.textContent) : {};

const language = page?.documentElement.lang || "en";

/** As Intl knows it; English is written as on the house's pages. */
const locale = language.startsWith("en") ? "en-GB" : language;

export const decimalMark = page?.documentElement.dataset.decimal || ".";

/** A message in the page's language. */
export const gettext = (message) => messages[message] ?? message;

/** The message for so many, in the page's language. */
export function ngettext(one, many, number) {
  const form = forms[number < forms.length ? number : forms.length / 2 + (number % (forms.length / 2))];
  return messages[one]?.[form] ?? (number === 1 ? one : many);
}

/** A sentence with its {places} filled in. */
export const fill = (sentence, places) => sentence.replace(/\{(\w+)\}/g, (whole, name) => places[name] ?? whole);

/** A figure written with a point, with the reader's decimal mark. */
export const marked = (figure) => String(figure).replace(".", decimalMark);

const MOMENT = { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" };

/** A moment as a day and the time on it. */
export const moment = (at) => new Intl.DateTimeFormat(locale, MOMENT).format(at);
