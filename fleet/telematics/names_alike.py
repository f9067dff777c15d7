"""Makers and models as two people write them: which are clearly different, and which may be one."""

import re
from difflib import SequenceMatcher
from functools import lru_cache
from unicodedata import combining, normalize

UNTOLD = {
    *("", "unknown", "unknownmodel", "unknownmaker", "unbekannt", "inconnu", "missing", "none", "null", "na"),
    *(
        "nil",
        "nan",
        "generic",
        "other",
        "various",
        "divers",
        "tbd",
        "tba",
        "undefined",
        "unspecified",
        "default",
    ),
    *("notavailable", "notapplicable", "notset", "model", "make", "maker", "oem", "test", "misc", "any"),
}
"""What is written where a maker or a model isn't known; letters and figures alone."""
LEGAL = {
    *("ag", "gmbh", "kg", "co", "cokg", "inc", "incorporated", "ltd", "limited", "llc", "llp", "lp", "plc"),
    *(
        "corp",
        "corporation",
        "company",
        "sa",
        "sas",
        "sarl",
        "spa",
        "srl",
        "bv",
        "nv",
        "ab",
        "as",
        "oy",
        "oyj",
    ),
    *(
        "aps",
        "se",
        "kk",
        "pty",
        "gesmbh",
        "ohg",
        "ug",
        "the",
        "and",
        "und",
        "et",
        "e",
        "y",
        "mbh",
        "sl",
        "zoo",
    ),
}
"""Legal forms of companies, from memory; they part no maker from another."""
KEPT = 4096  # pairs that were compared; a fleet has few makers and models
LIKENESS = 0.84  # of spellings, from which two words are one with a slip; chosen here, no source
CODE = 4  # letters of a maker's short form, such as BRV


@lru_cache(maxsize=KEPT)
def makers_differ(one: str, other: str) -> bool:
    """Whether two makers are clearly different. Unknown ones aren't, nor is one within the other."""
    mine, theirs = _words(one), _words(other)
    if not mine or not theirs:
        return False
    if set(mine) <= set(theirs) or set(theirs) <= set(mine):
        return False
    first, second = "".join(mine), "".join(theirs)
    if min(len(first), len(second)) >= 3 and (first in second or second in first):
        return False
    if _short_for(first, second, theirs) or _short_for(second, first, mine):
        return False
    return SequenceMatcher(None, first, second).ratio() < LIKENESS


@lru_cache(maxsize=KEPT)
def models_differ(one: str, other: str) -> bool:
    """Whether two models are clearly different: neither's letters and figures stand within the other's.

    `B 48` is within `Brava B-48 T4`; `B 4` is not, for 48 is one figure.
    """
    mine, theirs = _runs(one), _runs(other)
    if not mine or not theirs:
        return False
    return not (_within(mine, theirs) or _within(theirs, mine))


def untold(text: str) -> bool:
    """Whether the words stand for a maker or model that isn't known."""
    return _plain(text) in UNTOLD


def _folded(text: str) -> str:
    """Lower case without accents; ä, ö, ü and ß as a plain keyboard writes them."""
    text = text.casefold().replace("ä", "ae").replace("ö", "oe").replace("ü", "ue")
    return "".join(each for each in normalize("NFKD", text) if not combining(each))


def _plain(text: str) -> str:
    return "".join(each for each in _folded(text) if each.isalnum())


def _words(text: str) -> list[str]:
    if untold(text):
        return []
    parted = re.sub(r"(?<=\b\w)\.", "", _folded(text))  # S.p.A. is spa
    words = re.findall(r"\w+", parted.replace("_", " "))
    return [word for word in words if word not in LEGAL] or words


def _short_for(short: str, whole: str, words: list[str]) -> bool:
    """Whether it is the other's initials, or some of its letters in order, the first among them."""
    if not 2 <= len(short) <= CODE:
        return False
    if short == "".join(word[0] for word in words):
        return True
    left = iter(whole)
    return len(short) >= 3 and short[0] == whole[0] and all(each in left for each in short)


def _runs(text: str) -> list[str]:
    """The runs of letters and of figures, figures without leading zeros."""
    if untold(text):
        return []
    runs = re.findall(r"\d+|[^\W\d_]+", _folded(text))
    return [run.lstrip("0") or "0" if run.isdigit() else run for run in runs]


def _within(part: list[str], whole: list[str]) -> bool:
    size = len(part)
    if any(whole[at : at + size] == part for at in range(len(whole) - size + 1)):
        return True
    if any(run.isdigit() for run in part):
        return False
    return "".join(part) in "".join(run for run in whole if not run.isdigit())
