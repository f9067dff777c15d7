"""The reader's language, handed in from outside: what is pure knows no framework.

Until `spoken_by` is called they are English.
"""

from collections.abc import Callable

One = Callable[[str], str]
Many = Callable[[str, str, int], str]


def _as_written(message: str) -> str:
    return message


def _one_or_many(one: str, many: str, number: int) -> str:
    return one if number == 1 else many


_one: list[One] = [_as_written]
_many: list[Many] = [_one_or_many]


def spoken_by(one: One, many: Many) -> None:
    """Have every message translated by `one`, and by `many` where a number decides."""
    _one[0], _many[0] = one, many


def gettext(message: str) -> str:
    """Return a message in the reader's language."""
    return _one[0](message)


def ngettext(one: str, many: str, number: int) -> str:
    """Return the message for so many, in the reader's language."""
    return _many[0](one, many, number)
