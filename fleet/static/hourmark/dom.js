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
  if (place.dataset.said === text) return;
  place.dataset.said = text;
  place.replaceChildren(text, ...(link ? [" ", make("a", { href: link.href }, link.text)] : []));
}
