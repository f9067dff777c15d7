"""Hours of units on their way to the one door."""

import hashlib
from collections.abc import Sequence
from datetime import datetime

from django.utils.translation import gettext as _

from fleet import readings
from fleet.models import Reading, TelematicsSource, TelematicsUnit
from fleet.readings.submission import DUPLICATE, REFUSED, Submitted, Unreadable, read_moment
from fleet.telematics.values import hours_of

ROWS = 1000  # readings taken at a time


def send(
    *, source: TelematicsSource, units: Sequence[TelematicsUnit], in_service: set[int], now: datetime
) -> None:
    """Let the hours of tied units in; each unit then has what became of them. Nothing is saved of the units.

    Call it in a transaction. Machines are taken in the order of their ids, so that senders wait for each
    other instead of standing in each other's way.
    """
    rows: list[tuple[TelematicsUnit, Submitted]] = []
    for unit in sorted(units, key=lambda unit: unit.machine_id or 0):
        if unit.machine_id is None:
            continue
        if unit.machine_id not in in_service:
            unit.receipt = REFUSED
            unit.receipt_reason = _("The machine is retired, so its hours are not counted.")
            continue
        try:
            rows.append((unit, _row(unit)))
        except Unreadable as error:
            unit.receipt, unit.receipt_reason = REFUSED, error.reason
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


def _row(unit: TelematicsUnit) -> Submitted:
    shows, taken_at = hours_of(unit.hours), read_moment(unit.hours_at or None)
    return Submitted(unit.machine_id, taken_at, shows, client_id_of(unit, taken_at))


def client_id_of(unit: TelematicsUnit, taken_at: datetime) -> str:
    """The same for the same unit, machine and moment, so that a snapshot read twice doubles nothing."""
    words = f"{unit.source_id} {unit.key} {unit.machine_id} {taken_at.isoformat()}"
    return hashlib.sha256(words.encode()).hexdigest()[:40]
