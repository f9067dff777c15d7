"""Names as people type them: `t07`, `T 07` and `T-07` are one fleet number."""

import re
from functools import reduce
from typing import Any
from unicodedata import normalize

from django.db.models import F, Func, Value
from django.db.models.functions import Lower, Replace

APART = " -_./\u00a0\u2010\u2011\u2013"
"""What people put between letters and figures, or leave out."""
_LEFT_OUT = str.maketrans("", "", APART)


def squeeze(text: str) -> str:
    """Return the text in lower case, without what only keeps its parts apart."""
    return text.lower().translate(_LEFT_OUT)


def bare(text: str) -> str:
    """Return the text squeezed, without the zeros that lead a number: `T-04`, `t 4` and `T04` are one."""
    return re.sub(r"[0-9]+", lambda figures: figures[0].lstrip("0") or "0", squeeze(text))


def forms(text: str) -> set[str]:
    """Return the text squeezed, as each database does it: some lower ASCII's letters alone."""
    return {squeeze(text), text.encode().lower().decode().translate(_LEFT_OUT)}


def squeezed(column: str) -> Func:
    """Return the same of a column, to annotate or filter with."""
    start: Any = Lower(F(column))
    return reduce(lambda made, mark: Replace(made, Value(mark), Value("")), APART, start)


def number(text: str) -> str:
    """Return a number off a plate as it compares: in lower case, letters and figures alone, no leading zeros.

    `TB-00471`, `tb 00471` and `Tb00471` are one; so are `00471` and `471`. '' where nothing is left.
    """
    folded = normalize("NFKC", squeeze(text))
    return "".join(each for each in folded.casefold() if each.isalnum()).lstrip("0")
