"""The units of a whole snapshot: entries of one unit put together, numbers of many told from those of one."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime

from fleet.telematics.identity import FACTS, NUMBERS, Fact, Numbers, identifies
from fleet.telematics.names_alike import makers_differ, models_differ
from fleet.telematics.sections import several
from fleet.telematics.snapshot import SentUnit, Timed
from fleet.telematics.values import told_moment

NEVER = datetime.min.replace(tzinfo=UTC)
NO_HOURS = Timed("")
MOST_ALIKE = 5  # units with one number among which an entry's own is looked for


@dataclass
class Gathered:
    """One unit of a snapshot.

    sent: as it stands in its latest entry. other_hours: further figures told for the very moment of its
    hours. entries: how many there are that nothing tells apart; more than one is no unit to be believed.
    """

    sent: SentUnit
    numbers: Numbers
    key: str
    other_hours: list[Timed] = field(default_factory=list)
    entries: int = 1
    counts: dict[Fact, int] = field(default_factory=dict)
    """For each of its shared numbers, how many units have it."""


def gather(sent: Iterable[SentUnit]) -> tuple[list[Gathered], int]:
    """Return the units, and how many entries had no number nor anything else to be known by.

    A machine may move from one page to the next while they are read: of its entries the latest hours stand.
    Several figures for one moment are kept side by side.
    """
    every = list(sent)
    entries = [each for each in every if each.named]
    groups = _one_unit_each(entries)
    shared = _shared(groups)
    units: dict[str, Gathered] = {}
    for group in groups:
        made = _merged(group, shared)
        known = units.get(made.key)
        if known is None:
            units[made.key] = made
        else:
            known.entries += made.entries
    return list(units.values()), len(every) - len(entries)


def _one_unit_each(entries: list[SentUnit]) -> list[list[SentUnit]]:
    """Entries grouped: those that share a number belong together where nothing sets them apart."""
    groups: list[list[SentUnit]] = []
    by_number: dict[tuple[Fact, str], list[int]] = defaultdict(list)
    for entry in entries:
        place = None
        numbers = [(fact, plain) for fact in NUMBERS if (plain := identifies(getattr(entry, fact)))]
        for number in numbers:
            for candidate in by_number[number][:MOST_ALIKE]:
                if not any(_apart(entry, other) for other in groups[candidate]):
                    place = candidate
                    break
            if place is not None:
                break
        if place is None:
            place = len(groups)
            groups.append([])
        groups[place].append(entry)
        for number in numbers:
            if place not in by_number[number]:
                by_number[number].append(place)
    return groups


def _apart(one: SentUnit, other: SentUnit) -> bool:
    """Whether two entries are of different units: a number of each differs, or maker or model clearly do."""
    for fact in NUMBERS:
        mine, theirs = identifies(getattr(one, fact)), identifies(getattr(other, fact))
        if mine and theirs and mine != theirs:
            return True
    return makers_differ(one.maker, other.maker) or models_differ(one.model, other.model)


def _shared(groups: list[list[SentUnit]]) -> dict[tuple[Fact, str], list[tuple[str, int]]]:
    """The numbers that several units have, each with these units' makers and places.

    A serial number counts once for each maker, for it is the maker's own.
    """
    having: dict[tuple[Fact, str], dict[int, str]] = defaultdict(dict)
    for place, group in enumerate(groups):
        for entry in group:
            for fact in NUMBERS:
                if plain := identifies(getattr(entry, fact)):
                    having[fact, plain][place] = entry.maker
    return {
        number: [(maker, place) for place, maker in places.items()]
        for number, places in having.items()
        if len(places) > 1
    }


def _merged(group: list[SentUnit], shared: dict[tuple[Fact, str], list[tuple[str, int]]]) -> Gathered:
    latest = max(reversed(group), key=lambda entry: (entry.hours is not None, _at(entry.hours or NO_HOURS)))
    for entry in group:  # what one entry leaves out, or tells several times over
        for fact in FACTS:
            told = getattr(entry, fact)
            if not getattr(latest, fact) or (several(told) and not several(getattr(latest, fact))):
                setattr(latest, fact, told)
    every = [hours for entry in group for hours in (entry.hours, *entry.more_hours) if hours is not None]
    latest.hours = max(reversed(every), key=_at, default=None)
    others: list[Timed] = []
    for hours in every:
        known = {each.value for each in (latest.hours, *others) if each}
        if latest.hours and _at(hours) == _at(latest.hours) and hours.value not in known:
            others.append(hours)
    counts: dict[Fact, int] = {}
    for fact in NUMBERS:
        makers = shared.get((fact, identifies(getattr(latest, fact))), [])
        alike = [
            maker for maker, _place in makers if fact != "serial" or not _two_makers(maker, latest.maker)
        ]
        if len(alike) > 1:
            counts[fact] = len(alike)
    numbers = Numbers(
        pin=latest.pin,
        serial=latest.serial,
        equipment_id=latest.equipment_id,
        maker=latest.maker,
        model=latest.model,
        shared=frozenset(counts),
    )
    return Gathered(latest, numbers, key_of(numbers), others, counts=counts)


def _two_makers(one: str, other: str) -> bool:
    return bool(one and other) and makers_differ(one, other)


def _at(hours: Timed) -> tuple[datetime, str]:
    """Their moment, so that later ones sort behind earlier ones; as sent where it can't be read."""
    moment = told_moment(hours.at)
    return moment or NEVER, "" if moment else hours.at


def key_of(numbers: Numbers) -> str:
    """What tells a unit apart from the source's others: its surest number; else all it says of itself."""
    if numbers.plain("pin"):
        return f"pin {numbers.pin.upper()}"
    if numbers.plain("serial"):
        return f"serial {numbers.maker} {numbers.serial}"
    if numbers.plain("equipment_id"):
        return f"id {numbers.equipment_id}"
    said = " ".join(getattr(numbers, fact)[:40] for fact in ("maker", "model", *NUMBERS))
    return f"none {said}"
