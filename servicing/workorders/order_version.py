"""What an order says at one time, in a shape that can be kept; and how two such versions differ."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, cast

from django.utils.translation import gettext as _

from fleet.core.number_reader import read_plain
from fleet.usage import figures
from servicing.measurements import limits
from servicing.models import Line, WorkOrder
from servicing.models.check import word_said
from servicing.workorders import closing_reading


@dataclass(frozen=True)
class Difference:
    """One thing that a correction changed: what it is, what it said and what it says now; "" for nothing."""

    what: str
    was: str
    now: str


def of(order: WorkOrder) -> dict[str, Any]:
    """Return what a closed order says as plain JSON: figures as text, exactly as kept; days in ISO form."""
    reading = closing_reading.reading_of(order)
    lines = order.lines.prefetch_related("results__recorded_by__user")
    return {
        "meter_showed": None if reading is None else limits.plain(reading.shows),
        "hours_at_close": limits.plain(cast(Decimal, order.hours_at_close)),
        "lines": [_line(line) for line in lines],
        "parts": [
            {
                "part": use.part_id,
                "name": str(use.part),
                "quantity": limits.plain(use.quantity),
                "unit": use.part.unit,
                "unit_cost": str(use.unit_cost),
            }
            for use in order.parts.select_related("part").order_by("part__name", "part_id")
        ],
        "labour": [
            {
                "technician": row.technician_id,
                "name": str(row.technician),
                "minutes": row.minutes,
                "hourly_rate": str(row.hourly_rate),
            }
            for row in order.labour.select_related("technician__member__user").order_by("technician_id")
        ],
    }


def differences(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[Difference]:
    """Return what differs between two versions of one order, in the order in which the page shows it."""
    was, now = dict(_said(before)), dict(_said(after))
    names = [*now, *(name for name in was if name not in now)]
    return [
        Difference(key[-1], was.get(key, ""), now.get(key, ""))
        for key in names
        if was.get(key, "") != now.get(key, "")
    ]


def _line(line: Line) -> dict[str, Any]:
    return {
        "line": line.pk,
        "title": line.title,
        "outcome": line.outcome,
        "reason": line.reason,
        "deferred_until": line.deferred_until and line.deferred_until.isoformat(),
        "note": line.note,
        "done_hours": None if line.done_hours is None else limits.plain(line.done_hours),
        "done_on": line.done_on and line.done_on.isoformat(),
        "results": [
            {
                "check": result.check_made_id,
                "label": result.label,
                "as_found": result.kept("found"),
                "as_left": result.kept("left"),
                "passes": result.passes,
                "recorded_by": str(result.recorded_by) if result.recorded_by else None,
                "recorded_at": result.recorded_at.isoformat(),
            }
            for result in line.results.all()
        ],
    }


def _said(version: Mapping[str, Any]) -> Iterator[tuple[tuple[Any, ...], str]]:
    """Yield what a version says, each thing under a key of its own that ends with its name for a person."""
    shows, closed_at = version["meter_showed"], version["hours_at_close"]
    yield ("meter", _("The hour meter showed")), "" if shows is None else f"{figures.marked(shows)} h"
    yield ("closed at", _("Closed at")), f"{figures.marked(closed_at)} h"
    for line in version["lines"]:
        pk, title = line["line"], line["title"]
        yield (pk, "outcome", title), str(Line.Outcome(line["outcome"]).label) if line["outcome"] else ""
        yield (pk, "reason", _("{line}: why").format(line=title)), line["reason"]
        yield (pk, "until", _("{line}: deferred until").format(line=title)), _day(line["deferred_until"])
        yield (pk, "note", _("{line}: note").format(line=title)), line["note"]
        for result in line["results"]:
            found = _("{check}, as found").format(check=result["label"])
            yield (pk, result["check"], "found", found), _value(result["as_found"])
            left = _("{check}, as left").format(check=result["label"])
            yield (pk, result["check"], "left", left), _value(result["as_left"])
    for use in version["parts"]:
        yield ("part", use["part"], use["name"]), f"{figures.marked(use['quantity'])} {use['unit']}"
    for row in version["labour"]:
        yield ("labour", row["technician"], row["name"]), f"{row['minutes']} min"


def _value(kept: str) -> str:
    """Return a value of a check for a person: a number with its unit, or a word."""
    number, space, unit = kept.partition(" ")
    return f"{figures.marked(number)}{space}{unit}" if read_plain(number) is not None else word_said(kept)


def _day(iso: str | None) -> str:
    return figures.long_day(date.fromisoformat(iso)) if iso else ""
