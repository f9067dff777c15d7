/* Small parts of a page that several scripts make. */

export function make(tag, properties, ...children) {
  const element = Object.assign(document.createElement(tag), properties);
  element.append(...children);
  return element;
}

/** Say in the page's one line where what was typed is by now; said again, it isn't read aloud again. */
export function status(page, { text, kind = "", link = null }) {
  const place = page.querySelector("[data-status]");
  place.hidden = !text;
  place.className = `kept ${kind && `kept-${kind}`}`;
  const said = `${text} ${link?.href ?? ""}`;
  if (place.dataset.said === said) return;
  place.dataset.said = said;
  place.replaceChildren(text, ...(link ? [" ", linkTo(link)] : []));
}

/** `go`: the step it leads to, where that is on this page. */
function linkTo({ href, text, go = "" }) {
  const made = make("a", { href }, text);
  if (go) made.dataset.go = go;
  return made;
}
