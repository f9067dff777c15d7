"""A fleet snapshot as it was sent, before anything is believed, and why one is refused."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
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
    that can't be read.
    """

    units: list[SentUnit] = field(default_factory=list)
    links: dict[str, str] = field(default_factory=dict)
    more: list[str] = field(default_factory=list)
    pages: int = 0
    all_units: int = 0
    strange_links: bool = False


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
SECTION = Mapping[str, str]
LIKE_A_TIME = re.compile(r"\d{4}-\d\d-\d\d|\d\d?[./]\d\d?[./]\d{4}|/Date\(", re.ASCII)


def unit_of(sections: Sequence[tuple[str, SECTION]], snapshot_time: str = "") -> SentUnit:
    """Put a unit together from its sections: each one's name and its values by their names.

    The names are those of the standard as `links.member` writes them, '' for a section's own text. What is
    not known here is passed over. snapshot_time: that of the page, for hours without a time of their own or
    of their unit.
    """
    header: dict[str, str] = {}
    first: dict[str, SECTION] = {}
    hours: list[Timed] = []
    for section, values in sections:
        first.setdefault(section, values)
        if section in ("", "equipmentheader"):
            header |= {element: value for element, value in values.items() if element not in header}
        elif section == "cumulativeoperatinghours":
            hours += _hours(values)
        elif "" in values:  # without a header around it
            header.setdefault(section, values[""])

    def timed(section: str, element: str) -> Timed | None:
        value = first.get(section, {}).get(element)
        return None if value is None else Timed(value.strip(), _time(first[section]))

    def told(elements: Sequence[str]) -> str:
        return next((said for element in elements if (said := name(header.get(element)))), "")

    otherwise = _time(header) or snapshot_time.strip()
    hours = [each if each.at else Timed(each.value, otherwise) for each in hours]
    return SentUnit(
        pin=told(PINS),
        serial=told(SERIALS),
        equipment_id=told(IDS),
        maker=told(MAKERS),
        model=told(MODELS),
        hours=hours[0] if hours else None,
        more_hours=hours[1:],
        latitude=timed("location", "latitude"),
        longitude=timed("location", "longitude"),
        fuel_percent=timed("fuelremaining", "percent"),
        fuel_used=timed("fuelused", "fuelconsumed"),
        fuel_units=name(first.get("fuelused", {}).get("fuelunits")).lower(),
    )


def _hours(values: SECTION) -> list[Timed]:
    figures = [values[element] for element in ("hour", "hours", "value", "") if element in values]
    if not figures:
        return []
    value = next((figure for figure in figures if figure.strip()), "")
    unit = next((values[element].strip() for element in UNITS if values.get(element, "").strip()), "")
    return [Timed(f"{value.strip()} {unit}".strip(), _time(values) or _odd_time(values))]


def _time(values: SECTION) -> str:
    return next((values[element].strip() for element in TIMES if values.get(element, "").strip()), "")


def _odd_time(values: SECTION) -> str:
    """What stands beside the hours and looks like a time, whatever it is called: theirs, not the page's."""
    return next((said.strip() for said in values.values() if LIKE_A_TIME.match(said.strip())), "")
