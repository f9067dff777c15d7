"""A fleet snapshot as it was sent, before anything is believed, and why one is refused."""

from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.usage.figures import how_many

ABSENT = {"", "missing", "null", "none", "n/a", "unknown"}
"""Words that stand for no value; one feed sample writes `missing` for a model, a PIN or a serial number."""

WIDTH = 100  # characters kept of a name or number; longer ones are cut


class SnapshotRefused(FleetError):
    """A snapshot that can't be had or believed; nothing of it is applied.

    retry_after: seconds the server asks to be left alone for. wrong_login: trying again soon won't help.
    """

    code = "snapshot-refused"

    def __init__(self, sentence: str, *, retry_after: float | None = None, wrong_login: bool = False) -> None:
        super().__init__(sentence)
        self.retry_after = retry_after
        self.wrong_login = wrong_login


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

    hours: cumulative operating hours, a number or an ISO 8601 duration. latitude, longitude: degrees.
    fuel_percent: of the tank. fuel_used: over its whole life; fuel_units: the unit of that.
    """

    pin: str = ""
    serial: str = ""
    equipment_id: str = ""
    maker: str = ""
    model: str = ""
    hours: Timed | None = None
    latitude: Timed | None = None
    longitude: Timed | None = None
    fuel_percent: Timed | None = None
    fuel_used: Timed | None = None
    fuel_units: str = ""

    @property
    def key(self) -> str:
        """What tells it apart from the source's other units; '' when nothing does."""
        if self.pin:
            return f"pin {self.pin.upper()}"
        if self.serial:
            return f"serial {self.maker} {self.serial}"
        return f"id {self.equipment_id}" if self.equipment_id else ""


@dataclass(slots=True)
class SentPage:
    """One page of a snapshot: its units, and where its links lead, by their relation in lower case."""

    units: list[SentUnit] = field(default_factory=list)
    links: dict[str, str] = field(default_factory=dict)


def name(value: object) -> str:
    """A name or number as it can be kept: without spaces around it, '' for the words that mean none."""
    text = "" if value is None else str(value).replace("\0", "").strip()[:WIDTH]
    return "" if text.lower() in ABSENT else text


def unit_of(parts: dict[tuple[str, str], str]) -> SentUnit:
    """Put a unit together from its values by (section, element), the time of a section under 'datetime'.

    The names are those of the standard in lower case. What is not known here is passed over.
    """

    def timed(section: str, element: str) -> Timed | None:
        value = parts.get((section, element))
        return None if value is None else Timed(value.strip(), parts.get((section, "datetime"), "").strip())

    def header(element: str) -> str:
        return name(parts.get(("equipmentheader", element)))

    return SentUnit(
        pin=header("pin"),
        serial=header("serialnumber"),
        equipment_id=header("equipmentid"),
        maker=header("oemname") or header("make"),
        model=header("model"),
        hours=timed("cumulativeoperatinghours", "hour"),
        latitude=timed("location", "latitude"),
        longitude=timed("location", "longitude"),
        fuel_percent=timed("fuelremaining", "percent"),
        fuel_used=timed("fuelused", "fuelconsumed"),
        fuel_units=name(parts.get(("fuelused", "fuelunits"))).lower(),
    )
