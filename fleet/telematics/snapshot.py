"""A fleet snapshot as it was sent, before anything is believed, and why one is refused."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.telematics.identity import Fact, identifies
from fleet.telematics.names_alike import makers_differ, models_differ
from fleet.telematics.sections import SEVERAL, Section, add, one_of
from fleet.usage.figures import how_many

ABSENT = {"", "missing", "null", "none", "n/a", "unknown", "nil"}
"""Words that stand for no value; one feed sample writes `missing` for a model, a PIN or a serial number."""

WIDTH = 100  # characters kept of a name or number; longer ones are cut


class SnapshotRefused(FleetError):
    """A snapshot that can't be had or believed; nothing of it is applied.

    retry_after: seconds the server asks to be left alone for. retry_at: the moment it names instead.
    wrong_login: trying again soon won't help. foreign: what came is no snapshot, but perhaps says why.
    """

    code = "snapshot-refused"

    def __init__(
        self,
        sentence: str,
        *,
        retry_after: float | None = None,
        retry_at: datetime | None = None,
        wrong_login: bool = False,
        foreign: bool = False,
    ) -> None:
        super().__init__(sentence)
        self.retry_after = retry_after
        self.retry_at = retry_at
        self.wrong_login = wrong_login
        self.foreign = foreign


def too_many_units(most: int) -> SnapshotRefused:
    """Return the refusal of a snapshot with more units than are read."""
    return SnapshotRefused(_("The snapshot names more than {most} units.").format(most=how_many(most)))


@dataclass(frozen=True, slots=True)
class Timed:
    """A value with the time it was measured, both as sent."""

    value: str
    at: str = ""


@dataclass(slots=True)
class SentUnit:
    """One unit of a snapshot. Every value is text as it was sent and may be wrong; None where none was sent.

    hours: cumulative operating hours, a number (with its unit behind it, where one was sent) or an ISO 8601
    duration. more_hours: where several were sent, the others. latitude, longitude: degrees.
    fuel_percent: of the tank. fuel_used: over its whole life; fuel_units: the unit of that.
    """

    pin: str = ""
    serial: str = ""
    equipment_id: str = ""
    maker: str = ""
    model: str = ""
    hours: Timed | None = None
    more_hours: list[Timed] = field(default_factory=list)
    latitude: Timed | None = None
    longitude: Timed | None = None
    fuel_percent: Timed | None = None
    fuel_used: Timed | None = None
    fuel_units: str = ""

    @property
    def named(self) -> bool:
        """Whether it says anything that stands for a number."""
        return bool(self.pin or self.serial or self.equipment_id)


@dataclass(slots=True)
class SentPage:
    """One page of a snapshot: its units, and what it says of other pages.

    links: where they lead, by their relation in lower case. more: what speaks of more pages without an
    address. pages, all_units: how many there are in all, 0 where it doesn't say. strange_links: it has links
    that can't be read. other_pages: further addresses that it calls the next page. nothing: it is no page,
    for there was none left.
    """

    units: list[SentUnit] = field(default_factory=list)
    links: dict[str, str] = field(default_factory=dict)
    more: list[str] = field(default_factory=list)
    pages: int = 0
    all_units: int = 0
    strange_links: bool = False
    other_pages: list[str] = field(default_factory=list)
    nothing: bool = False


def name(value: object) -> str:
    """A name or number as it can be kept: without spaces around it, '' for the words that mean none."""
    text = "" if value is None else str(value).replace("\0", "").strip()[:WIDTH]
    return "" if text.lower() in ABSENT else text


SNAPSHOT_TIMES = ("snapshottime", "snapshotdatetime", "snapshottimestamp")
MAKERS = ("oemname", "make", "manufacturer", "oem", "maker", "brand")
MODELS = ("model", "modelname", "modelnumber")
SERIALS = ("serialnumber", "serialno", "serial", "equipmentserialnumber", "machineserialnumber")
PINS = ("pin", "productidentificationnumber", "vin")
IDS = ("equipmentid", "assetid", "fleetnumber", "unitnumber", "equipmentidentifier")
TIMES = ("datetime", "timestamp", "time", "datetimeutc", "date", "readingdatetime", "utctime", "utc")
UNITS = ("unit", "units", "uom", "hourunit", "hourunits")
LIKE_A_TIME = re.compile(r"\d{4}-\d\d-\d\d|\d\d?[./]\d\d?[./]\d{4}|/Date\(", re.ASCII)


def unit_of(sections: Sequence[tuple[str, Section]], snapshot_time: str = "") -> SentUnit:
    """Put a unit together from its sections: each one's name and its values by their names.

    The names are those of the standard as `links.member` writes them, '' for a section's own text. What is
    not known here is passed over. snapshot_time: that of the page, for hours without a time of their own or
    of their unit. Where it says several things of what a unit has one of, all stand side by side
    (`sections.one_of`), and a place or a filling is left out.
    """
    header: Section = {}
    first: dict[str, Section] = {}
    hours: list[Timed] = []
    for section, values in sections:
        first.setdefault(section, values)
        if section in ("", "equipmentheader"):
            for element, told_values in values.items():
                for value in told_values:
                    add(header, element, value)
        elif section == "cumulativeoperatinghours":
            hours += _hours(values)
        elif "" in values:  # without a header around it
            for value in values[""]:
                add(header, section, value)

    def timed(section: str, element: str) -> Timed | None:
        values = first.get(section, {}).get(element, [])
        return Timed(values[0], _time(first[section])) if len(values) == 1 else None

    def told(fact: Fact, elements: Sequence[str]) -> str:
        said: list[str] = []
        for element in elements:
            said += [each for value in header.get(element, ()) if (each := name(value))]
            if said and fact not in ("pin", "serial"):  # those are one number, whatever they are called
                break
        return one_of(said, DIFFER.get(fact, _numbers_differ))

    otherwise = _time(header) or snapshot_time.strip()
    hours = [each if each.at else Timed(each.value, otherwise) for each in hours]
    return SentUnit(
        pin=told("pin", PINS),
        serial=told("serial", SERIALS),
        equipment_id=told("equipment_id", IDS),
        maker=told("maker", MAKERS),
        model=told("model", MODELS),
        hours=hours[0] if hours else None,
        more_hours=hours[1:],
        latitude=timed("location", "latitude"),
        longitude=timed("location", "longitude"),
        fuel_percent=timed("fuelremaining", "percent"),
        fuel_used=timed("fuelused", "fuelconsumed"),
        fuel_units=name(" ".join(first.get("fuelused", {}).get("fuelunits", ()))).lower(),
    )


def _numbers_differ(one: str, other: str) -> bool:
    """Whether they are two numbers; what stands for none, such as `n/a`, is not."""
    mine, theirs = identifies(one), identifies(other)
    return bool(mine and theirs and mine != theirs)


DIFFER: dict[Fact, Callable[[str, str], bool]] = {"maker": makers_differ, "model": models_differ}


def _hours(values: Section) -> list[Timed]:
    every = [value for element in ("hour", "hours", "value", "") for value in values.get(element, ())]
    if not every:
        return []
    figures = list(dict.fromkeys(value for value in every if value)) or [""]
    unit = " / ".join(next((told for element in UNITS if (told := _said(values, element))), []))
    at = _time(values) or _odd_time(values)
    return [Timed(f"{figure} {unit}".strip(), at) for figure in figures]


def _time(values: Section) -> str:
    """The time, or several that are told under one name, joined: that can't be read as any."""
    return SEVERAL.join(next((told for element in TIMES if (told := _said(values, element))), []))


def _said(values: Section, element: str) -> list[str]:
    return [value for value in values.get(element, ()) if value]


def _odd_time(values: Section) -> str:
    """What stands beside the hours and looks like a time, whatever it is called: theirs, not the page's."""
    every = [value for told in values.values() for value in told if LIKE_A_TIME.match(value)]
    return every[0] if every else ""
