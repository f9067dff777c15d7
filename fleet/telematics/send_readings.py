"""Hours of units on their way to the one door."""

import hashlib
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.utils.translation import gettext as _

from fleet import readings
from fleet.models import Reading, TelematicsSource, TelematicsUnit
from fleet.readings.submission import DUPLICATE, REFUSED, Submitted, Unreadable
from fleet.telematics.values import hours_of, read_told
from fleet.usage.figures import TIGHT, grouped

ROWS = 1000  # readings taken at a time
ROUNDED = Decimal("0.05")  # hours: as much may lie between a figure and the same rounded to a tenth
Row = tuple[TelematicsUnit, Submitted]


def send(
    *, source: TelematicsSource, units: Sequence[TelematicsUnit], in_service: set[int], now: datetime
) -> None:
    """Let the hours of tied units in; each unit then has what became of them. Nothing is saved of the units.

    Where a unit told several figures for one moment, or tells another than it told before, no figure counts
    by itself: each is held until a person has said which is right. Call it in a transaction. Machines are
    taken in the order of their ids, so that senders wait for each other instead of standing in each other's
    way.
    """
    rows: list[Row] = []
    for unit in sorted(units, key=lambda unit: unit.machine_id or 0):
        if unit.machine_id is None:
            continue
        if unit.machine_id not in in_service:
            unit.receipt = REFUSED
            unit.receipt_reason = _("The machine is retired, so its hours are not counted.")
            continue
        try:
            rows += _rows(unit)
        except Unreadable as error:
            unit.receipt, unit.receipt_reason = REFUSED, error.reason
    rows = _corrections(source, rows)
    for start in range(0, len(rows), ROWS):
        part = rows[start : start + ROWS]
        receipts = readings.take(
            organisation=source.organisation,
            rows=[row for _unit, row in part],
            source=Reading.Source.TELEMATICS,
            sender=source.name,
            now=now,
        )
        for (unit, _row_sent), receipt in zip(part, receipts, strict=True):
            # what was said of a reading when it came still stands when it is sent again
            if receipt.state != DUPLICATE or not unit.receipt:
                unit.receipt, unit.receipt_reason = receipt.state, receipt.reason


def _rows(unit: TelematicsUnit) -> list[Row]:
    """What a unit told for its moment: one figure, or several that are in doubt. Raises Unreadable."""
    taken_at = read_told(unit.hours_at)
    figures = list(dict.fromkeys(hours_of(each) for each in (unit.hours, *unit.other_hours)))
    if max(figures) - min(figures) <= ROUNDED:
        figures = figures[:1]
    doubt = ""
    if len(figures) > 1:
        doubt = _("The source sent several figures for this moment: {figures}. Which one is right?").format(
            figures=", ".join(_said(each) for each in sorted(figures))
        )
    return [(unit, _row(unit, taken_at, shows, doubt)) for shows in figures]


def _row(unit: TelematicsUnit, taken_at: datetime, shows: Decimal, doubt: str) -> Submitted:
    return Submitted(unit.machine_id, taken_at, shows, client_id_of(unit, taken_at, shows), doubt=doubt)


def _corrections(source: TelematicsSource, rows: list[Row]) -> list[Row]:
    """The rows, those in doubt that tell another figure than the source told before for the same moment."""
    told: dict[tuple[object, object], list[Decimal]] = {}
    kept = Reading.objects.filter(
        source=Reading.Source.TELEMATICS,
        sender=source.name,
        machine__in={row.machine for _unit, row in rows},
        taken_at__in={row.taken_at for _unit, row in rows},
    )
    for machine_id, taken_at, shows in kept.order_by("pk").values_list("machine_id", "taken_at", "shows"):
        told.setdefault((machine_id, taken_at), []).append(shows)
    made = []
    for unit, row in rows:
        before = told.get((row.machine, row.taken_at), [])
        shows = hours_of(str(row.shows))
        rounded = next((each for each in before if abs(each - shows) <= ROUNDED), None)
        if rounded is not None:  # it is the figure that was told before
            row = _row(unit, read_told(unit.hours_at), rounded, row.doubt)
        elif not row.doubt and before:
            doubt = _(
                "The source now sends {now} for this moment; before, it sent {before}. Which is right?"
            ).format(now=_said(shows), before=_said(before[-1]))
            row = row._replace(doubt=doubt)
        made.append((unit, row))
    return made


def client_id_of(unit: TelematicsUnit, taken_at: datetime, shows: Decimal) -> str:
    """The same for the same unit, machine, moment and figure, so that what is read twice doubles nothing."""
    words = f"{unit.source_id} {unit.machine_id} {taken_at.isoformat()} {shows}"
    return hashlib.sha256(words.encode()).hexdigest()[:40]


def _said(shows: Decimal) -> str:
    """Hours with both places, so that two figures in doubt don't look like one."""
    return f"{grouped(shows, 2)}{TIGHT}h"
