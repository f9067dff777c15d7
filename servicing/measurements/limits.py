"""Judging what was measured against what is allowed: exact, whatever unit it was read in.

This is the one home of the rule. A phone without a line judges by the same rule, sent as data
(`Rule.as_data`, `rules`), in `servicing/static/hourmark/offline/steps/judge.js`;
tests/servicing/measurements/rules.json is run through both.

A value is kept as it was typed, in the unit it was typed in. Only the comparison converts, in fractions and
not in rounded decimals, so that 0.3 in meets a limit of 7.62 mm and 0.300001 in does not. Factors are those
of NIST SP 811, appendix B, as pint derives them from the definitions (1 in = 25.4 mm, 1 lb = 0.45359237 kg).
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from functools import cache
from typing import Any, Protocol

import pint
from django.utils.text import format_lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.core import number_reader
from fleet.core.errors import FleetError
from fleet.core.number_reader import NotANumber, read_typed
from fleet.usage.figures import marked
from servicing.models.check import word_said

PLACES = 6
DIGITS_BEFORE_POINT = 8
MINUTES = re.compile(r"([0-9]{1,4}):([0-5][0-9])")
SENTENCES: dict[str, Any] = {
    **number_reader.SENTENCES,
    "digits": format_lazy(
        _("Write at most {digits} digits before the point and {places} after it."),
        digits=DIGITS_BEFORE_POINT,
        places=PLACES,
    ),
    "unit": _("The limit is in {unit}; enter the value in {known}."),
    "word": _("Choose one of: {words}."),
    "minutes": _("Enter whole minutes, like 75 or 1:15."),
}
"""What is said of a value that can't be read, here and on a phone without signal; told in words by `str`."""
THOUGHT_IN = {
    "us": {
        "mm": "in",
        "cm": "in",
        "N·m": "lbf·ft",
        "kPa": "psi",
        "bar": "psi",
        "L": "gal",
        "°C": "°F",
        "kg": "lb",
    },
    "metric": {"in": "mm", "lbf·ft": "N·m", "lbf·in": "N·m", "psi": "kPa", "gal": "L", "qt": "L", "°F": "°C"},
}
PASSES, FAILS = "passes", "fails"

# What a shop writes, and what pint calls it. The units of one row can stand for each other.
KINDS: tuple[dict[str, str], ...] = (
    {"mm": "millimeter", "in": "inch", "cm": "centimeter", "m": "meter", "ft": "foot"},
    {"N·m": "newton * meter", "lbf·ft": "force_pound * foot", "lbf·in": "force_pound * inch"},
    {"kPa": "kilopascal", "psi": "psi", "bar": "bar", "MPa": "megapascal"},
    {"L": "liter", "gal": "gallon", "qt": "quart", "mL": "milliliter"},
    {"°C": "degC", "°F": "degF"},
    {"N": "newton", "lbf": "force_pound"},
    {"g": "gram", "kg": "kilogram", "oz": "ounce", "lb": "pound"},
    {"V": "volt", "mV": "millivolt"},
    {"r/min": "rpm"},
    {"s": "second", "min": "minute"},
)
SPELLINGS = {
    "degc": "°C",
    "degf": "°F",
    "nm": "N·m",
    "n.m": "N·m",
    "n-m": "N·m",
    "lb-ft": "lbf·ft",
    "lbf.ft": "lbf·ft",
    "ft-lb": "lbf·ft",
    "lb-in": "lbf·in",
    "lbf.in": "lbf·in",
    "rpm": "r/min",
    "l": "L",
    "ml": "mL",
    "kpa": "kPa",
    "mpa": "MPa",
    '"': "in",
}


def rules() -> dict[str, Any]:
    """Return how values and minutes are read, as data."""
    return {
        "number": number_reader.rules(),
        "digits": DIGITS_BEFORE_POINT,
        "places": PLACES,
        "minutes": MINUTES.pattern,
    }


class UnknownUnit(FleetError):
    """The unit doesn't measure what the limit is about."""

    code = "unknown-unit"


class UnknownWord(FleetError):
    """The word isn't one of those to choose from."""

    code = "unknown-word"


class Limited(Protocol):
    """What a rule is made of; a check has it, and so has a result, as it held then."""

    @property
    def unit(self) -> str: ...

    @property
    def lower(self) -> Decimal | None: ...

    @property
    def upper(self) -> Decimal | None: ...

    @property
    def choices(self) -> Sequence[dict[str, Any]]: ...

    @property
    def is_numeric(self) -> bool: ...


@dataclass(frozen=True)
class Value:
    """A value as it was typed, read and judged: a number with its unit, or a word."""

    passes: bool
    number: Decimal | None = None
    unit: str = ""
    word: str = ""

    def __str__(self) -> str:
        return word_said(self.word) if self.number is None else f"{shown(self.number)} {self.unit}"


@dataclass(frozen=True)
class Rule:
    """What a check allows: a number within inclusive limits in `unit`, or one of the `words` that pass."""

    unit: str = ""
    lower: Decimal | None = None
    upper: Decimal | None = None
    words: Mapping[str, bool] | None = None

    @classmethod
    def of(cls, check: Limited) -> "Rule":
        """Return the rule of a check."""
        if check.is_numeric:
            return cls(spelled(check.unit), check.lower, check.upper)
        return cls(words={choice["value"]: bool(choice["passes"]) for choice in words(check.choices)})

    def read(self, typed: str, unit: str = "") -> Value:
        """Read and judge what was typed; a blank unit is the limit's.

        Raises NotANumber; UnknownUnit where the unit doesn't measure what the limit is about; UnknownWord.
        """
        if self.words is not None:
            word = typed.strip()
            if word not in self.words:
                raise UnknownWord(SENTENCES["word"].format(words=", ".join(map(word_said, self.words))))
            return Value(self.words[word], word=word)
        value, unit = number(typed), spelled(unit or self.unit)
        passes = within(value, unit, lower=self.lower, upper=self.upper, limit_unit=self.unit)
        return Value(passes, value, unit)

    def allows(self, value: Decimal) -> bool:
        """Return whether a number in the limit's own unit lies within the limits."""
        return within(value, self.unit, lower=self.lower, upper=self.upper, limit_unit=self.unit)

    def as_data(self) -> dict[str, Any]:
        """Return the rule for a phone to judge by: fractions as text, exact, never rounded.

        `units`: for each unit a value may be typed in, what 0 and 1 of it are in the limit's unit.
        """
        if self.words is not None:
            return {"words": dict(self.words)}

        def told(limit: Decimal | None) -> str | None:
            return None if limit is None else str(Fraction(limit))

        units = {unit: _line_between(unit, self.unit) for unit in units_for(self.unit)}
        return {
            "unit": self.unit,
            "lower": told(self.lower),
            "upper": told(self.upper),
            "units": {unit: [str(zero), str(one - zero)] for unit, (zero, one) in units.items()},
        }


def spelled(unit: str) -> str:
    """Return the unit as Hourmark writes it: "degC" becomes "°C", "Nm" becomes "N·m"."""
    return SPELLINGS.get(unit.strip().lower(), unit.strip())


def units_for(unit: str) -> list[str]:
    """Return the units a value may be entered in where the limit is in `unit`; its own comes first."""
    own = spelled(unit)
    kind: dict[str, str] = next((kind for kind in KINDS if own in kind), {})
    return [own, *(other for other in kind if other != own)]


def number(typed: str) -> Decimal:
    """Return the measured value a person typed, with every digit, as `fleet.core.number_reader` reads it.

    Raises NotANumber where it isn't one, where a comma could mean thousands ("1,204"), or beyond six
    decimals.
    """
    value = read_typed(typed)
    if abs(value) >= 10**DIGITS_BEFORE_POINT or value != round(value, PLACES):
        raise NotANumber(str(SENTENCES["digits"]))
    return value


def minutes(typed: str) -> int:
    """Return the whole minutes a person typed: "75" and "1:15" are 75. Raises NotANumber."""
    if found := MINUTES.fullmatch("".join(typed.split())):
        return int(found[1]) * 60 + int(found[2])
    try:
        value = number(typed)
    except NotANumber:
        raise NotANumber(str(SENTENCES["minutes"])) from None
    if value != int(value):
        raise NotANumber(str(SENTENCES["minutes"]))
    return int(value)


def within(
    value: Decimal, unit: str, *, lower: Decimal | None, upper: Decimal | None, limit_unit: str
) -> bool:
    """Return whether `value` in `unit` lies within limits given in `limit_unit`; both limits are inclusive.

    Raises UnknownUnit if the two units don't measure the same thing.
    """
    found = _converted(value, spelled(unit), spelled(limit_unit))
    return (lower is None or found >= Fraction(lower)) and (upper is None or found <= Fraction(upper))


def words(choices: Sequence[dict[str, Any]]) -> Sequence[dict[str, Any]]:
    """Return the words to choose from; a test that names none is passed or failed."""
    return choices or (
        {"value": PASSES, "meaning": "", "passes": True},
        {"value": FAILS, "meaning": "", "passes": False},
    )


def comparable(value: Decimal, unit: str, other: str) -> Fraction:
    """Return the value in `other`, exactly; for ordering and comparing, not for showing."""
    return _converted(value, spelled(unit), spelled(other))


def about(value: Decimal, unit: str, other: str, *, digits: int = 3) -> str:
    """Return the value in another unit as a help beside the real one: "about 0.354 in"."""
    rough = _rough(value, unit, other, digits)
    return gettext("about {value} {unit}").format(value=rough, unit=spelled(other))


def in_system(lower: Decimal | None, upper: Decimal | None, unit: str, system: str) -> str:
    """Return limits roughly, in the unit people of a system ("metric", "us") think in; "" if it is theirs.

    A help beside the limit itself, never instead of it: "about 0.276 to 0.354 in".
    """
    other = THOUGHT_IN.get(system, {}).get(spelled(unit))
    if other is None:
        return ""
    if lower is not None and upper is not None:
        return gettext("about {lower} to {upper} {unit}").format(
            lower=_rough(lower, unit, other), upper=_rough(upper, unit, other), unit=other
        )
    limit = upper if lower is None else lower
    return "" if limit is None else about(limit, unit, other)


def plain(value: Decimal) -> str:
    """Return the number without padding or exponent: 7.500000 is "7.5"."""
    return f"{value.normalize():f}" if value else "0"


def shown(value: Decimal) -> str:
    """Return the same for a person: with the decimal mark they write."""
    return marked(plain(value))


def said(lower: Decimal | None, upper: Decimal | None, unit: str, target: Decimal | None = None) -> str:
    """Return limits as a person reads them: "7 to 9 mm", "at most 9 mm", "7 to 9 mm, aim for 8"."""
    unit = spelled(unit)
    given = {name: limit for name, limit in (("lower", lower), ("upper", upper)) if limit is not None}
    if lower is not None and upper is not None:
        text = gettext("{lower} to {upper} {unit}") if lower != upper else "{lower} {unit}"
    elif upper is not None:
        text = gettext("at most {upper} {unit}")
    elif lower is not None:
        text = gettext("at least {lower} {unit}")
    else:
        return ""
    text = text.format(**{name: shown(limit) for name, limit in given.items()}, unit=unit)
    if target is None or target in (lower, upper):
        return text
    return gettext("{limits}, aim for {target}").format(limits=text, target=shown(target))


def _rough(value: Decimal, unit: str, other: str, digits: int = 3) -> str:
    fraction = _converted(value, spelled(unit), spelled(other))
    rough = Decimal(fraction.numerator) / Decimal(fraction.denominator)
    if rough:
        places = Decimal(1).scaleb(min(0, rough.adjusted() - digits + 1))
        rough = rough.quantize(places, rounding=ROUND_HALF_EVEN)
    return shown(rough)


def _converted(value: Decimal, unit: str, other: str) -> Fraction:
    zero, one = _line_between(unit, other)
    return zero + Fraction(value) * (one - zero)


def _line_between(unit: str, other: str) -> tuple[Fraction, Fraction]:
    if unit == other:
        return Fraction(0), Fraction(1)
    kind = next((kind for kind in KINDS if other in kind), None)
    if kind is None or unit not in kind:
        raise UnknownUnit(SENTENCES["unit"].format(unit=other, known=", ".join(units_for(other))))
    return _line(kind[unit], kind[other])


@cache
def _line(unit: str, other: str) -> tuple[Fraction, Fraction]:
    """Return what 0 and 1 of a unit are in the other; between two units the way is a straight line."""
    registry = _registry()
    return (
        Fraction(registry.Quantity(Fraction(0), unit).to(other).magnitude),
        Fraction(registry.Quantity(Fraction(1), unit).to(other).magnitude),
    )


@cache
def _registry() -> Any:
    return pint.UnitRegistry(non_int_type=Fraction)
