"""What a sender hands in, and what became of it."""

from datetime import UTC, datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import NamedTuple

from django.utils.translation import gettext as _
from django.utils.translation import pgettext
from django_scopes import scopes_disabled

from fleet.core.moment_reader import read_iso
from fleet.core.number_reader import read_plain
from fleet.models import Reading
from fleet.readings.machine_lookup import Found
from fleet.usage.figures import exact

COUNTED, HELD, DUPLICATE, REFUSED = "counted", "held", "duplicate", "refused"
REFUSALS = (
    *("unreadable_hours", "unreadable_time", "unreadable_text", "no_time_zone", "negative"),
    *("unknown_machine", "out_of_reach", "no_meter"),
)
"""Why a row isn't kept, as codes."""

HUNDREDTH = Decimal("0.01")
MOST_HOURS = Decimal("9999999.99")
YEARS = range(1950, 2100)  # beyond these a date is a slip, and arithmetic on it needn't hold


class Submitted(NamedTuple):
    """One reading as it was sent; every value may be wrong, and is then refused with a reason.

    machine: an integer is the machine's id, text is its tag (in any case) or its serial number.
    taken_at: an aware datetime, or text in ISO 8601 with a time zone.
    shows: what the meter showed, in hours; a number or text with a decimal point. An Unreadable is raised.
    client_id: the sender's own id for it; sending the same id again changes nothing.
    doubt: why a person has to say whether it counts, however plausible it is; "" where nothing speaks so.
    """

    machine: object
    taken_at: object
    shows: object
    client_id: object = None
    note: object = ""
    doubt: str = ""


class Receipt(NamedTuple):
    """What became of one row.

    state: counted, held (kept, waits for a person), duplicate (had been received before; the reading is that
    one) or refused (not kept). code and reason say why; code is 'ok' and reason '' for a counted row.
    machine is None when it is unknown; its `hours` are those after the whole batch.
    """

    state: str
    code: str
    reason: str = ""
    reading_id: int | None = None
    machine: Found | None = None
    client_id: str | None = None

    @property
    def reading(self) -> Reading | None:
        """The reading as it is kept now."""
        if self.reading_id is None:
            return None
        with scopes_disabled():  # it was written in the organisation's scope
            return Reading.objects.select_related("machine").get(pk=self.reading_id)


class LegibleReading(NamedTuple):
    """A reading whose values can be read. shows to a hundredth of an hour, taken_at in UTC."""

    machine: int | str
    taken_at: datetime
    shows: Decimal
    client_id: str | None
    note: str
    doubt: str = ""


class Unreadable(Exception):
    """A value of a row can't be used; carries a code and a sentence."""

    def __init__(self, code: str, reason: str) -> None:
        super().__init__(reason)
        self.code = code
        self.reason = reason


def read_submitted(sent: Submitted) -> LegibleReading:
    """Read the values of one row. Raises Unreadable."""
    return LegibleReading(
        machine=_machine(sent.machine),
        taken_at=read_moment(sent.taken_at),
        shows=read_hours(sent.shows),
        client_id=_client_id(sent),
        note=_text(sent.note, "note", 2000),
        doubt=sent.doubt,
    )


def readable_client_id(sent: Submitted) -> str | None:
    """Return the sender's id as text, None when there is none or it can't be read."""
    try:
        return _client_id(sent)
    except Unreadable:
        return None


def _client_id(sent: Submitted) -> str | None:
    value = sent.client_id
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value) if abs(value) < 10**79 else None
    return _text(value, "client_id", 80) or None


def read_hours(value: object) -> Decimal:
    """Read hours as a Decimal to a hundredth. Raises Unreadable, also one that stands for the hours."""
    if isinstance(value, Unreadable):
        raise value
    if isinstance(value, int | float | Decimal) and not isinstance(value, bool):
        number = exact(value)
    elif isinstance(value, str) and (plain := read_plain(value.strip())) is not None:
        number = plain
    elif value is None or value == "":
        raise Unreadable("unreadable_hours", _("The hours are missing."))
    else:
        raise Unreadable(
            "unreadable_hours",
            _("The hours can't be read. Write a plain number with a point, like 1204.5."),
        )
    if not number.is_finite() or number > MOST_HOURS:
        raise Unreadable("unreadable_hours", _("No meter shows that many hours. Read it again."))
    if number < 0:
        raise Unreadable("negative", _("A meter can't show less than 0 h: hours start at zero."))
    return number.quantize(HUNDREDTH, rounding=ROUND_HALF_UP)


def read_moment(value: object) -> datetime:
    """Read a moment in time, returned in UTC. Raises Unreadable."""
    if isinstance(value, str):
        value = read_iso(value)
        if value is None:
            raise Unreadable(
                "unreadable_time", _("The time can't be read. Write it like 2026-05-03T14:30:00+02:00.")
            )
    if not isinstance(value, datetime):
        raise Unreadable("unreadable_time", _("The time of the reading is missing."))
    if value.tzinfo is None or value.utcoffset() is None:
        raise Unreadable(
            "no_time_zone", _("The time zone is missing. End the time with Z or an offset such as +02:00.")
        )
    if value.year not in YEARS:
        said = _("The year {year} can't be right. Check the date.").format(year=value.year)
        raise Unreadable("unreadable_time", said)
    return value.astimezone(UTC)


def _machine(value: object) -> int | str:
    if isinstance(value, int) and not isinstance(value, bool):
        return value
    name = _text(value, "machine", 200)
    if not name:
        raise Unreadable("unknown_machine", _("The machine is missing. Give its id, fleet or serial number."))
    return name


def _text(value: object, name: str, longest: int) -> str:
    """Text that every database can keep: no NUL, no half of a character."""
    if value is None:
        return ""
    if not isinstance(value, str):
        raise Unreadable("unreadable_text", _("The {field} must be text.").format(field=_called(name)))
    text = value.strip()
    if len(text) > longest:
        said = _("The {field} is longer than {longest} characters.")
        raise Unreadable("unreadable_text", said.format(field=_called(name), longest=longest))
    if "\0" in text or any("\ud800" <= character <= "\udfff" for character in text):
        said = _("The {field} holds characters that can't be kept.")
        raise Unreadable("unreadable_text", said.format(field=_called(name)))
    return text


def _called(name: str) -> str:
    """What a field of text is called in a sentence; one for programs alone is called by its name."""
    if name == "note":
        return pgettext("a field of a reading", "note")
    return pgettext("a field of a reading", "machine") if name == "machine" else name
