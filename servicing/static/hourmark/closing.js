/* The closing form: on a desk every line is open; on a phone the next one opens when one has its outcome. */

import { make } from "./dom.js";
import { outcomeWord } from "./outcomes.js";

const DESK = "(min-width: 70rem)";
const ASKS_WHY = ["deferred", "referred"];

const lines = [...document.querySelectorAll("[data-line]")];
const outcomeOf = (line) => line.querySelector("[name$=-outcome]:checked");

function unfoldAll({ matches }) {
  if (matches) for (const line of lines) line.open = true;
}

/** Say beside a line's title what is chosen; what the server found wrong with it stays until then. */
function told(line) {
  const chosen = outcomeOf(line);
  if (!chosen) return;
  line.querySelector("[data-outcome]").replaceChildren(make("span", { className: "state state-plain" }, outcomeWord(chosen.value)));
}

for (const line of lines) {
  line.addEventListener("change", ({ target }) => {
    if (!target.name?.endsWith("-outcome")) return;
    told(line);
    if (ASKS_WHY.includes(target.value)) line.querySelector("[data-why]").open = true;
    const next = lines.slice(lines.indexOf(line) + 1).find((each) => !outcomeOf(each));
    if (next) next.open = true;
  });
  const chosen = outcomeOf(line);
  if (chosen && !chosen.defaultChecked) told(line);
}

const desk = matchMedia(DESK);
desk.addEventListener("change", unfoldAll);
unfoldAll(desk);
