"""Who a unit says it is, and what of that agrees with a machine's record or speaks against it."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from fleet.core.squeezed import number, squeeze
from fleet.telematics.names_alike import makers_differ, models_differ
from fleet.telematics.sections import several

Fact = Literal["pin", "serial", "equipment_id", "maker", "model"]
NUMBERS: tuple[Fact, ...] = ("pin", "serial", "equipment_id")
"""What tells a unit from others, the surest first."""
FACTS: tuple[Fact, ...] = (*NUMBERS, "maker", "model")

NOTHING_WORDS = (
    "na, nan, none, null, nil, unknown, unbekannt, inconnu, missing, empty, blank, tbd, tba, undefined, "
    "unassigned, notset, notavailable, notapplicable, notprovided, default, keine, ohne, leer, test, "
    "string, serial, serialnumber, sn, pin, vin, id, noserial, equipmentid, false, true, placeholder, "
    "dummy, noserialnumber, nopin, unspecified"
)
NOTHING = frozenset(NOTHING_WORDS.split(", "))
"""Words that stand where a number should; letters and figures alone. From memory, no source."""
FILLED = re.compile(r"(.)\1{3,}|(?:0?123456789?0?)|x+", re.ASCII)
"""A number that somebody typed to fill the field: 9999, XXXX, 123456789."""

TAIL = 5  # figures and letters that make the end of a longer number telling; chosen here, no source


def identifies(text: str) -> str:
    """Return a number as it compares (`squeezed.number`); '' for none (`0`, `--`) or several."""
    if several(text):
        return ""
    plain = number(text)
    return "" if plain in NOTHING or FILLED.fullmatch(plain) else plain


@dataclass(frozen=True)
class Numbers:
    """What a unit tells of itself, as sent. shared: its numbers that other units of the snapshot have too."""

    pin: str = ""
    serial: str = ""
    equipment_id: str = ""
    maker: str = ""
    model: str = ""
    shared: frozenset[Fact] = frozenset()

    def plain(self, fact: Fact) -> str:
        """A number as it compares; '' where it identifies nothing."""
        return "" if fact in self.shared else self._plain[fact]

    def in_doubt(self) -> list[Fact]:
        """The facts of which it tells several."""
        return [fact for fact in FACTS if several(getattr(self, fact))]

    def told(self) -> dict[str, str]:
        """Its facts that say something, to be kept."""
        return {fact: str(getattr(self, fact)) for fact in FACTS if getattr(self, fact)}

    @cached_property
    def _plain(self) -> dict[Fact, str]:
        return {fact: identifies(getattr(self, fact)) for fact in NUMBERS}

    @classmethod
    def kept(cls, told: Mapping[str, str]) -> "Numbers":
        """Those that were kept by `told`."""
        pin, serial, equipment_id, maker, model = (told.get(fact, "") for fact in FACTS)
        return cls(pin, serial, equipment_id, maker, model)


@dataclass(frozen=True)
class Record:
    """A machine as its record has it. usable: in service and with a meter of its own."""

    pk: int
    tag: str
    maker: str
    model: str
    serial: str
    pin: str
    usable: bool = True

    @cached_property
    def plates(self) -> set[str]:
        """The numbers on its plate as they compare; people enter either one as the other."""
        return {identifies(self.serial), identifies(self.pin)} - {""}

    def on_record(self, fact: Fact) -> str:
        """What the record has beside a fact of a unit."""
        return str({"equipment_id": self.tag}.get(fact) or getattr(self, fact, ""))


@dataclass
class Comparison:
    """A unit beside a machine: which of its facts agree, and which speak against it."""

    agree: list[Fact] = field(default_factory=list)
    against: list[Fact] = field(default_factory=list)


def compare(unit: Numbers, machine: Record) -> Comparison:
    """Compare all of a unit's facts with a record, an equipment id only as far as it is the record's own.

    What either side leaves open speaks for nothing and against nothing.
    """
    made = Comparison()
    for fact in ("pin", "serial"):
        sent, recorded = unit.plain(fact), identifies(getattr(machine, fact))
        if not sent:
            continue
        if sent in machine.plates or same_but_zeros(unit, machine, fact):
            made.agree.append(fact)
        elif recorded and not _part_of_plates(sent, machine):
            made.against.append(fact)
    called = unit.plain("equipment_id")
    if called and (
        squeeze(unit.equipment_id) == squeeze(machine.tag)
        or (len(called) >= TAIL and called in machine.plates)
    ):
        made.agree.append("equipment_id")
    if makers_differ(unit.maker, machine.maker):
        made.against.append("maker")
    if models_differ(unit.model, machine.model):
        made.against.append("model")
    return made


def same_but_zeros(unit: Numbers, machine: Record, fact: Fact) -> bool:
    """Whether `TB-471` is the record's `TB-00471`: only where maker and model are told and agree, too."""
    if not (unit.maker and unit.model) or makers_differ(unit.maker, machine.maker):
        return False
    if models_differ(unit.model, machine.model):
        return False
    return without_zeros(unit.plain(fact)) in {without_zeros(plate) for plate in machine.plates}


def without_zeros(plain: str) -> str:
    """A number without the zeros that fill up its first figures: tb00471 is tb471."""
    return re.sub(r"^(\D*)0+(?=\d)", r"\1", plain)


def _part_of_plates(sent: str, machine: Record) -> bool:
    """Whether one ends with the other: many a PIN ends with the serial number."""
    return any(
        min(len(sent), len(plate)) >= TAIL and (plate.endswith(sent) or sent.endswith(plate))
        for plate in machine.plates
    )


def changes(before: Numbers, now: Numbers) -> list[Fact]:
    """The facts that were told before and are told otherwise now, or newly several times over; one no longer
    told has not changed.
    """
    doubts = [fact for fact in now.in_doubt() if getattr(now, fact) != getattr(before, fact)]
    changed: list[Fact] = [
        fact
        for fact in NUMBERS
        if fact in doubts or ((was := before.plain(fact)) and identifies(getattr(now, fact)) not in ("", was))
    ]
    if "maker" in doubts or makers_differ(before.maker, now.maker):
        changed.append("maker")
    if "model" in doubts or models_differ(before.model, now.model):
        changed.append("model")
    return changed
