"""Signs in the cells of a maker's table, and the legend that explains them."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice

from servicing.planning import table_words as words
from servicing.planning.table_words import plain

REPEATED = frozenset("xX×✕✗●•■◆▪✓✔☑*+⬤")
CROSSES, TICKS = frozenset("xX×✕✗"), frozenset("✓✔☑")
SOLID = frozenset("●■◆▪")
FIRST_ONLY = frozenset("oO0○◯◦⚪")
SYMBOLS = "●•■◆▪✓✔☑○◯◦⚪□◇△▲▽▼★☆×✕✗⬤◎◉⊙"
NOTHING = frozenset(("-", "–", "—", "--", "/", ".", "…", "n/a", "n.a.", "na"))
RAISED = str.maketrans("¹²³⁴⁵⁶⁷⁸⁹⁰", "1234567890")
REFERENCE = re.compile(
    r"[(\[]\s*([0-9a-z*†‡]{1,3}(?:\s*[,;]\s*[0-9a-z*†‡]{1,3})*)\s*[)\]]|([¹²³⁴⁵⁶⁷⁸⁹⁰†‡]+|(?<=.)\*+\d?)"
    r"|(?:(?<=\s)|^|(?<=[xX●•○✓✔]))(\d{1,2})\)$"
    r"|[(\[]\s*(?:see |siehe |voir |ver |vedi |zie )?"
    r"(?:[Nn]ote|[Nn]ota|[Nn]oot|[Aa]nm\.?|[Ff]ußnote|[Rr]emarque|[Oo]pmerking)\s*(\d{1,2})\s*[)\]]"
)
SIGN = re.compile(
    rf"(?:^|(?<=[\s,;:(|.]))(?:([{SYMBOLS}]|[-–—](?=\s*=))\s*[=:–-]?\s*|([A-Z]{{1,3}}|[A-Z](?:/[A-Z]){{1,2}}|n/a|[a-z]\.\s?[a-z]\.|[a-zA-Z*+#])\s*[=:]\s*"
    r"|([A-Z])\s+[–-]\s+)"
)
LETTER_MEANS = re.compile(r"([A-Z])\s+([^\d,;|]{3,60})")  # "C check, R replace"
MOST_REFERENCES = 8  # in one cell
EACH, FIRST, ACT, WHEN, NOT_DUE = "each", "first", "act", "when", "not due"
GUESSES: dict[str, tuple[str, ...]] = {
    "C": ("check", "clean"),
    "I": ("check",),
    "R": ("replace",),
    "A": ("adjust",),
    "L": ("lubricate",),
    "G": ("lubricate",),
    "D": ("drain",),
    "T": ("tighten",),
    "K": ("check",),
    "W": ("replace",),
    "V": ("replace", "check"),
    "S": ("lubricate",),
    "N": ("clean",),
}


@dataclass(frozen=True, slots=True)
class Sign:
    """What a sign means: due each time, the first time only, not due, on a word, or an act in words."""

    kind: str
    words: str = ""


def legend(said: str, used: Collection[str]) -> dict[str, Sign]:
    """Return what a line explains of the signs in use; {} where it is no legend."""
    found = list(SIGN.finditer(said))
    signs: dict[str, Sign] = {}
    for at, each in enumerate(found):
        end = found[at + 1].start() if at + 1 < len(found) else len(said)
        meant = re.split(r"\.\s+(?=[A-Z])", said[each.end() : end])[0].strip(" \t,;.|/()–-")
        name = each[1] or each[2] or each[3]
        if len(meant) <= 100 and re.search(r"[^\W\d_]", meant):
            signs[name] = meaning_of(meant)
    if not found:
        parts = [LETTER_MEANS.fullmatch(part.strip()) for part in re.split(r"[,;|]", said)]
        plainly = [part for part in parts if part is not None and part[1] in used]
        signs = {part[1]: meaning_of(part[2]) for part in plainly if len(plainly) == len(parts) > 1}
    headed = bool(words.LEGEND_HEADINGS.match(plain(said)))
    if not signs or not (headed or any(name in used for name in signs)):
        return {}
    return signs


def meaning_of(said: str) -> Sign:
    """Return what the words of a legend say of a sign."""
    bare = plain(said)
    act = words.act_of(said)
    if words.NOT_DUE.match(bare):
        return Sign(NOT_DUE, said)
    if words.FIRST.search(bare):
        return Sign(FIRST, said)
    if words.REGULAR_WORK.fullmatch(bare) or (words.EVERY.search(bare) and not act):
        return Sign(EACH, said)
    if any(pattern.search(bare) for pattern in words.WHEN.values()) and not act:
        return Sign(WHEN, said)
    if words.DUE_SIGNS.search(bare) and not act:
        return Sign(EACH, said)
    return Sign(ACT, said)


def references(cell: str) -> list[str]:
    """Return the footnotes that a cell refers to: `x (1, 2)`, `●¹`, `oil **`; none of too many."""
    return list(_references(cell))


@lru_cache(maxsize=8192)
def _references(cell: str) -> tuple[str, ...]:
    found = list(islice(REFERENCE.finditer(cell), MOST_REFERENCES + 1))
    return () if len(found) > MOST_REFERENCES else tuple(name for each in found for name in split(each))


def split(found: re.Match[str]) -> list[str]:
    """Return the footnotes that one reference names."""
    if found[2]:
        raised = found[2]
        return (
            [raised.translate(RAISED)]
            if raised[0] in "*†‡" or len(raised) == 1
            else list(raised.translate(RAISED))
        )
    if found[3] or found[4]:
        return [found[3] or found[4]]
    return [name.strip().lower() for name in re.split(r"[,;]", found[1])]


def bare_of(cell: str) -> str:
    """Return a cell without its references."""
    return REFERENCE.sub("", cell).strip()


def signs_in(bare: str, known: Mapping[str, Sign]) -> list[str]:
    """Part a cell's signs: `C/R`, `C, L`, `CL` where the legend has both; else the cell as one sign."""
    if bare in known:
        return [bare]
    parted = [each for each in re.split(r"[\s,;/+&]+", bare) if each]
    if len(parted) > 1 and all(_is_sign(each, known) for each in parted):
        return parted
    if len(bare) > 1 and all(letter in known for letter in bare):
        return list(bare)
    return [bare]


def _is_sign(said: str, known: Mapping[str, Sign]) -> bool:
    return said in known or (len(said) == 1 and (said in REPEATED or said in FIRST_ONLY or said.isupper()))


def used_in(cells: Sequence[str]) -> dict[str, int]:
    """Return how often each sign stands in these cells: a symbol, or up to three capitals."""
    found: dict[str, int] = {}
    for cell in cells:
        for sign in re.split(r"[\s,;/+&]+", bare_of(cell)):
            if sign and (len(sign) == 1 or re.fullmatch(r"[A-Z]{2,3}", sign)) and sign not in NOTHING:
                found[sign] = found.get(sign, 0) + 1
    return found
