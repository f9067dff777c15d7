"""What may stand under a key: kinds of value, and rows of keys in which nothing unknown is let through."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from servicing.programs.file_format.faults import Faults
from servicing.programs.file_format.limits import LONGEST_SAID, LONGEST_TEXT, MOST_VALUES
from servicing.programs.file_format.yaml_lines import Row, line_of

SLUG = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


class Wrong(Exception):
    """A value that can't stand where it stands; the text completes "KEY ..."."""


Kind = Callable[[Any, Faults], Any]


@dataclass(frozen=True, slots=True)
class Key:
    """A key of a row: the kind of its value, and what stands for it when it is left out."""

    kind: Kind
    default: Any = None
    needed: bool = False


def needed(kind: Kind) -> Key:
    """A key that must be there."""
    return Key(kind, needed=True)


def row(value: Any, keys: Mapping[str, Key], faults: Faults) -> Row:
    """Return the row with every key of `keys`, faults noted; a wrong value is left at its default."""
    if not isinstance(value, dict):
        faults.say("must be keys with values")
        value = {}
    for name in value:
        if name not in keys:
            faults.on(line_of(value, name)).say(f"{said(name)} is not a key here")
    found = Row()
    found.line, found.lines = line_of(value), dict(getattr(value, "lines", {}))
    for name, key in keys.items():
        found[name] = key.default
        if name not in value:
            if key.needed:
                faults.on(line_of(value)).say(f"{name} missing")
            continue
        line = line_of(value, name)
        try:
            found[name] = key.kind(value[name], faults.at(name, line))
        except Wrong as wrong:
            faults.on(line).say(f"{name} {wrong}")
    return found


def rows(keys: Mapping[str, Key], *, name: str | None = None, most: int = MOST_VALUES) -> Kind:
    """A list of at most so many rows; each is known in faults by its number from 0 and its key `name`."""

    def read(value: Any, faults: Faults) -> list[dict[str, Any]]:
        if isinstance(value, list) and len(value) > most:
            raise Wrong(f"are {len(value):,}; at most {most} can be kept")
        return [row(each, keys, place) for each, place in numbered(value, faults, name)]

    return read


def numbered(value: Any, faults: Faults, name: str | None = None) -> list[tuple[Any, Faults]]:
    """Pair each entry of a list with the collector for its place."""
    if not isinstance(value, list) or not value:
        raise Wrong("must be a list with something in it")
    head, _, key = faults.place.rpartition(": ")
    outer = Faults(head, faults.said, faults.line)
    return [
        (each, outer.at(" ".join(filter(None, [f"{key}[{at}]", _named(each, name)])), line_of(value, at)))
        for at, each in enumerate(value)
    ]


def _named(each: Any, name: str | None) -> str:
    return said(each.get(name, "")) if name and isinstance(each, dict) else ""


def said(value: Any) -> str:
    """What a person wrote, as much of it as is repeated to them."""
    text = str(value)
    return text if len(text) <= LONGEST_SAID else f"{text[: LONGEST_SAID - 1]}…"


def text(longest: int = LONGEST_TEXT, *, empty: bool = False) -> Kind:
    """Words, at most `longest` characters."""

    def read(value: Any, faults: Faults) -> str:
        if not isinstance(value, str):
            raise Wrong("must be text; put it in quotes")
        if not value.strip() and not empty:
            raise Wrong("is empty")
        if len(value.strip()) > longest:
            raise Wrong(f"is longer than {longest:,} characters")
        if "\0" in value or any("\ud800" <= letter <= "\udfff" for letter in value):
            raise Wrong("holds characters that can't be kept")
        return value.strip()

    return read


def slug(value: Any, faults: Faults) -> str:
    """A short name: small letters, digits and hyphens."""
    if not isinstance(value, str) or not SLUG.fullmatch(value) or len(value) > 50:
        raise Wrong("must be small letters, digits and hyphens, at most 50")
    return value


def one_of(allowed: Sequence[str]) -> Kind:
    """One of a few words."""

    def read(value: Any, faults: Faults) -> str:
        if value not in allowed:
            raise Wrong(f"is {said(repr(value))}; it must be one of: {', '.join(allowed)}")
        return str(value)

    return read


def number(*, places: int, digits: int, above_zero: bool = False) -> Kind:
    """A number with at most so many decimals and digits in all."""

    def read(value: Any, faults: Faults) -> Decimal:
        if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
            raise Wrong("must be a number")
        exact = Decimal(str(value))
        if not exact.is_finite() or abs(exact) >= Decimal(10) ** (digits - places):
            raise Wrong("is too large")
        if exact != round(exact, places):
            raise Wrong(f"has more than {places} decimals")
        if exact < 0 or (above_zero and not exact):
            raise Wrong("must be above zero" if above_zero else "must not be below zero")
        return exact

    return read


def signed(value: Any, faults: Faults) -> Decimal:
    """A limit: a number of either sign, with at most six decimals."""
    negative = isinstance(value, int | float | Decimal) and not isinstance(value, bool) and value < 0
    exact: Decimal = number(places=6, digits=14)(-value if negative else value, faults)
    return -exact if negative else exact


def whole(most: int = 32767, *, least: int = 0) -> Kind:
    """A whole number."""

    def read(value: Any, faults: Faults) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            raise Wrong(f"must be a whole number from {least} to {most}")
        return value

    return read


def flag(value: Any, faults: Faults) -> bool:
    """true or false."""
    if not isinstance(value, bool):
        raise Wrong("must be true or false")
    return value


def each(kind: Kind) -> Kind:
    """A list of values of one kind."""

    def read(value: Any, faults: Faults) -> list[Any]:
        found = []
        for entry, place in numbered(value, faults):
            try:
                found.append(kind(entry, place))
            except Wrong as wrong:
                place.say(str(wrong))
        return found

    return read
