"""Readings let in by the one door."""

from datetime import UTC, datetime, timedelta

from fleet import readings
from fleet.readings import Submitted

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)


def take(house, *rows, **kwargs):
    """Let rows in as a box's; return their receipts."""
    values = {"source": "api", "sender": "box", "now": NOW} | kwargs
    return readings.take(organisation=house.organisation, rows=rows, **values)


def sent(machine, shows, *, days=0.0, **kwargs):
    """A row taken so many days after noon on 1 March 2026."""
    return Submitted(machine=machine.pk, taken_at=NOON + timedelta(days=days), shows=shows, **kwargs)
