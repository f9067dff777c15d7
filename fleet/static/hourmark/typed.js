/* What is typed into a form stays on this device until the server has it.

   A form asks for it by data-keep; data-refused says that the server has just sent it back. Each field that
   was changed is kept with what the page said before, under the member's id, so that nobody else who signs in
   here sees it. With it goes what the page was made from (CARRIED), so that the server can still tell what was
   changed here from what others changed since, and asks. It is forgotten once the server has answered the form with another page. Files and passwords
   are never kept. */

import { make } from "./dom.js";
import { nameNow, valueNow } from "./former_names.js";
import { fill, gettext, moment } from "./language.js";

const OURS = "hourmark-typed";
const LONGEST = 30 * 24 * 3600 * 1000; // milliseconds; after that nobody remembers what it was about
const ANSWERED = 10_000; // milliseconds between sending a form and the beginning of the visit that answers it
const CARRIED = ["revision", "shown"];
const NEVER = ["hidden", "file", "password", "submit", "button", "reset"];

const member = document.body.dataset.member;
const forms = [...document.querySelectorAll("form[data-keep]")];
/** Forget what has arrived: it was just sent, and the server answered by leading on to this page.

    A page without a member is the sign-in page: then nothing has arrived. */
function forgetArrived() {
  const [visit] = performance.getEntriesByType("navigation");
  const ledOn = member && visit?.type === "navigate" && visit.redirectCount > 0;
  for (const key of keys()) {
    const kept = read(key);
    const arrived = kept?.sent && ledOn && Math.abs(performance.timeOrigin - kept.sent) < ANSWERED;
    if (!kept || arrived || Date.now() - kept.at > LONGEST) localStorage.removeItem(key);
    else if (kept.sent) write(key, { ...kept, sent: 0 });
  }
}

function look(form) {
  const key = `${OURS} ${member} ${form.getAttribute("action") || location.pathname + location.search}`;
  const begun = new Map(fields(form).map((field) => [name(field), was(field)]));
  const refused = form.hasAttribute("data-refused");
  const kept = read(key);
  if (!refused && kept) restore(form, kept, key, begun);
  const keep = () => {
    const typed = fields(form)
      .filter((field) => refused || value(field) !== begun.get(name(field)))
      .map((field) => ({ name: name(field), value: value(field), before: begun.get(name(field)) }));
    if (typed.length) write(key, { at: Date.now(), sent: 0, typed, carried: carried(form) });
    else localStorage.removeItem(key);
  };
  if (refused) keep();
  form.addEventListener("input", keep);
  form.addEventListener("change", keep);
  form.addEventListener("submit", () => {
    keep();
    const now = read(key);
    if (now) write(key, { ...now, sent: Date.now() });
  });
}

/** Put back what was typed, and say so. Where the page says something new meanwhile, say that at the field. */
function restore(form, kept, key, begun) {
  const there = new Map(fields(form).map((field) => [name(field), field]));
  let put = 0;
  for (const { name: of, value: typed, before } of kept.typed) {
    const field = there.get(of);
    if (!field || typed === value(field)) continue;
    const now = begun.get(of);
    set(field, typed);
    unfold(field);
    if (now !== before) beside(field, fill(gettext("Changed meanwhile to: {value}. Above is what you typed."), { value: said(field, now) }));
    put += 1;
  }
  if (!put) {
    localStorage.removeItem(key);
    return;
  }
  for (const [of, made] of Object.entries(kept.carried ?? {})) if (form.elements[of]) form.elements[of].value = made;
  const forget = make("button", { type: "button", className: "button button-quiet", textContent: gettext("Discard it") });
  const back = gettext("What you typed here on {moment} is back. It is only on this device until you send it.");
  const note = make(
    "div",
    { className: "kept kept-waiting" },
    make("p", { textContent: fill(back, { moment: moment(kept.at) }) }),
    forget,
  );
  note.setAttribute("role", "status");
  forget.addEventListener("click", () => {
    localStorage.removeItem(key);
    location.reload();
  });
  form.prepend(note);
}

/** Open every fold a field lies in. */
function unfold(field) {
  for (let fold = field.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
}

// ------------------------------------------------------------------ fields

/** The fields that are kept; radio buttons of one name count as one field, told by the first. */
function fields(form) {
  const seen = new Set();
  return [...form.elements].filter((field) => {
    if (!field.name || NEVER.includes(field.type) || field.tagName === "FIELDSET") return false;
    if (field.type !== "radio") return true;
    return !seen.has(field.name) && seen.add(field.name);
  });
}

/** Ticks of one name differ by their value; everything else is told by its name. */
const name = (field) => (field.type === "checkbox" ? `${field.name}=${field.value}` : field.name);

const radios = (field) => [...field.form.elements].filter((each) => each.type === "radio" && each.name === field.name);
const options = (field, chosen) => [...field.options].filter(chosen).map((each) => each.value).join("\n");

const carried = (form) =>
  Object.fromEntries(CARRIED.filter((each) => form.elements[each]).map((each) => [each, form.elements[each].value]));

function value(field) {
  if (field.type === "radio") return radios(field).find((each) => each.checked)?.value ?? "";
  if (field.type === "checkbox") return field.checked ? "yes" : "";
  return field.tagName === "SELECT" ? options(field, (each) => each.selected) : field.value;
}

/** What the page came with. */
function was(field) {
  if (field.type === "radio") return radios(field).find((each) => each.defaultChecked)?.value ?? "";
  if (field.type === "checkbox") return field.defaultChecked ? "yes" : "";
  if (field.tagName !== "SELECT") return field.defaultValue;
  const chosen = options(field, (each) => each.defaultSelected);
  return chosen || field.multiple ? chosen : field.options[0]?.value ?? "";
}

function set(field, typed) {
  if (field.type === "radio") radios(field).forEach((each) => { each.checked = each.value === typed; });
  else if (field.type === "checkbox") field.checked = typed === "yes";
  else if (field.tagName === "SELECT") [...field.options].forEach((each) => { each.selected = typed.split("\n").includes(each.value); });
  else field.value = typed;
}

function said(field, now) {
  if (field.type === "checkbox") return now ? gettext("ticked") : gettext("not ticked");
  if (field.type === "radio") return radios(field).find((each) => each.value === now)?.labels?.[0]?.textContent.trim() || gettext("nothing");
  return now || gettext("nothing");
}

function beside(field, text) {
  const last = field.type === "radio" ? radios(field).at(-1) : field;
  (last.closest(".entry-line") ?? last).after(make("div", { className: "wrong", textContent: text }));
}

// ------------------------------------------------------------------ the device

/** A browser that keeps nothing (private windows, a full device) sends forms all the same. */
function read(key) {
  try {
    return asNow(JSON.parse(localStorage.getItem(key)));
  } catch {
    return null;
  }
}

/** What a page of the version before kept, under the names of now. */
function asNow(kept) {
  if (!kept) return kept;
  const typed = kept.typed.map(({ name: of, value: put, before }) => ({
    name: nameNow(of),
    value: valueNow(of, put),
    before: valueNow(of, before),
  }));
  return { ...kept, typed };
}

function keys() {
  try {
    return Object.keys(localStorage).filter((each) => each.startsWith(`${OURS} `));
  } catch {
    return [];
  }
}

function write(key, kept) {
  try {
    localStorage.setItem(key, JSON.stringify(kept));
  } catch {
    // full, or not allowed: the form still sends
  }
}

forgetArrived();
if (member) forms.forEach(look);
