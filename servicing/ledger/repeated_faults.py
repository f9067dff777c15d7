"""Faults that look like the same one again, by the words they were reported with."""

import re
from collections.abc import Sequence

SHARE = 0.5
LEAST = 2
"""Two texts are alike when at least two words, and half the words of the shorter one, stand in both."""
WORDS = re.compile(r"[^\W\d_]{3,}")
EMPTY = frozenset(
    WORDS.findall(
        "the and for with when not from that this its has was are but does still again after before too "
        "very now only into while out off"
    )
)


def words(text: str) -> frozenset[str]:
    """Return the words that say something, in small letters and without a plural's s."""
    found = (word.lower() for word in WORDS.findall(text))
    return frozenset(_stem(word) for word in found if word not in EMPTY)


def alike(one: str, other: str) -> bool:
    """Whether two reports may be of the same fault: they share two words and half of the shorter one's."""
    first, second = words(one), words(other)
    if first and first == second:
        return True
    shared = len(first & second)
    return shared >= LEAST and shared >= SHARE * min(len(first), len(second))


def gather(texts: Sequence[str]) -> list[list[int]]:
    """Return the places of the texts in groups of those alike, directly or through one between them."""
    group = list(range(len(texts)))
    for one in range(len(texts)):
        for other in range(one):
            if group[one] != group[other] and alike(texts[one], texts[other]):
                kept, joined = sorted((group[one], group[other]))
                group = [kept if each == joined else each for each in group]
    found: dict[int, list[int]] = {}
    for place, of in enumerate(group):
        found.setdefault(of, []).append(place)
    return list(found.values())


def _stem(word: str) -> str:
    return word[:-1] if word.endswith("s") and not word.endswith("ss") and len(word) > 3 else word
