"""Codes for intervals, `A`, `B`, and the key that says what they mean: `A = daily   B = 50 h or yearly`."""

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache

from servicing.planning.table_intervals import read_interval
from servicing.planning.table_line_parts import is_interval
from servicing.planning.table_signs import NOTHING
from servicing.planning.table_words import LEGEND_HEADINGS, plain

CODE = r"[A-Z]{1,2}\d?|[IVX]{1,4}|[A-Z]?\d{1,2}"
TOKEN = re.compile(
    rf"(?<![\w.,/–-])[(\[]?({CODE}|\d{{3,4}})[)\]]?\s*(?P<sign>[=:]|[–-](?=\s))\s*"
    r"|(?<![\w.,/–-])[(\[]?([A-Z]{1,2}\d?|[IVX]{1,4})[)\]]?\s+(?=\S)"
)
TURNED = re.compile(r"(.{2,40}?)\s*[:=]\s*([A-Z]{1,2}\d?)")
CODED = re.compile(rf"(?:{CODE})(?:\s*[,/+&]\s*(?:{CODE}))*")
PARTED = re.compile(r"\s*[,/+&]\s*")
MOSTLY, FEWEST = 0.6, 2
Cells = Sequence[Sequence[str]]


@lru_cache(maxsize=4096)
def key_in(line: str) -> Mapping[str, str]:
    """Return what a line explains, the words of an interval by code; {} where it is no key of intervals."""
    turned = [TURNED.fullmatch(part) for part in re.split(r"\s*[;|]\s*|\s{2,}", line.strip(" ;."))]
    if all(each and is_interval(each[1]) for each in turned):  # "every 10 h: A; every 50 h: B"
        return {each[2]: each[1] for each in turned if each}
    tokens = list(TOKEN.finditer(line))
    if not tokens or not _opens(line[: tokens[0].start()]):
        return {}
    found: dict[str, str] = {}
    at = 0
    while at < len(tokens):
        end = at + 1
        while end < len(tokens) and not line[tokens[at].end() : tokens[end].start()].strip():
            end += 1  # "A = A diario"
        stop = tokens[end].start() if end < len(tokens) else len(line)
        said = line[tokens[at].end() : stop].strip(" ,;.|·•")
        code = tokens[at][1] or tokens[at][3]
        if not _is_said(said, bool(tokens[at]["sign"])) or found.get(code, said) != said:
            return {}
        found[code] = said
        at = end
    return found


def _opens(before: str) -> bool:
    """Whether words may stand before a key's first code: none, `Key:`, `Interval codes`."""
    text = plain(before).strip(" .:=")
    return (
        not text or bool(LEGEND_HEADINGS.search(text)) or (before.rstrip().endswith(":") and len(text) < 40)
    )


def _is_said(said: str, signed: bool) -> bool:
    """Whether words are an interval; behind `=` other words may stand beside it."""
    if is_interval(said):
        return True
    found = read_interval(said) if signed else None
    return found is not None and bool(found.first.marks) and bool(re.search(r"\d\s*[^\W\d]", said))


def keys_in(table: Cells) -> dict[int, Mapping[str, str]]:
    """Return by row, from 0, what the rows explain that are keys of intervals."""
    found = {number: key_in("  ".join(cell for cell in row if cell)) for number, row in enumerate(table)}
    return {number: key for number, key in found.items() if key}


def is_key(line: str) -> bool:
    """Whether a line of text explains several codes, so that its blanks part no columns."""
    return len(key_in(" ".join(line.split()))) >= FEWEST


def code_columns(table: Cells, keys: Mapping[int, Mapping[str, str]]) -> dict[int, int]:
    """Return the columns that hold codes which a key explains, each with the first row that has one."""
    explained = {code for key in keys.values() for code in key}
    found: dict[int, int] = {}
    if not explained:
        return found
    rows = [number for number, row in enumerate(table) if number not in keys and sum(map(bool, row)) > 1]
    for at in range(len(table[0])):
        coded = [number for number in rows if is_coded(table[number][at])]
        known = [number for number in coded if {*PARTED.split(table[number][at])} & explained]
        said = [number for number in rows if known and number >= known[0] and table[number][at]]
        said = [number for number in said if plain(table[number][at]) not in NOTHING]
        used = {code for number in known for code in PARTED.split(table[number][at])}
        if len(known) >= FEWEST and len(known) >= MOSTLY * len(said) and len(used & explained) >= FEWEST:
            found[at] = known[0]
    return found


def is_coded(cell: str) -> bool:
    """Whether a cell holds codes and nothing else."""
    return bool(CODED.fullmatch(cell))


def spelled_out(words: str, codes: Mapping[str, str]) -> str:
    """Return words with each code that stands alone in the key's words: `H in dust`."""
    parts = re.split(r"(\s+)", words)
    return "".join(codes.get(part, part) for part in parts)


def said_by(cell: str, codes: Mapping[str, str]) -> str:
    """Return the key's words for a cell's codes, "" where one of them is not explained."""
    said = [codes.get(code, "") for code in PARTED.split(cell)]
    return " or ".join(said) if all(said) else ""
