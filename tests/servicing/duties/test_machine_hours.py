"""The pace of the last 90 days, or of a year for what lies further ahead, as the ledger says."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from fleet import readings
from fleet.readings import Submitted
from servicing.duties import machine_hours

NOW = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
DAY = timedelta(days=1)


def paced(farm, breaks_after):
    """Run 9 h a day for 400 days, but 1 h a day in the last days."""
    machine = farm.machine()
    known = [(400, 0), (breaks_after, 9 * (400 - breaks_after))]
    known.append((0, known[1][1] + breaks_after))
    rows = [Submitted(machine.pk, NOW - ago * DAY, Decimal(hours)) for ago, hours in known]
    taken = readings.take(organisation=farm.organisation, rows=rows, source="page", sender="test", now=NOW)
    assert [receipt.state for receipt in taken] == ["counted"] * 3
    return machine


@pytest.mark.parametrize(
    ("slow", "pace"),
    [
        (90, Decimal(1)),
        (91, Decimal(1)),
        (89, Decimal(89 + 9) / 90),  # the ninetieth day back was a busy one
    ],
)
def test_the_pace_is_that_of_the_last_ninety_days(in_farm, slow, pace):
    machine = paced(in_farm, slow)
    assert machine_hours.paces([machine], NOW)[machine.pk] == pytest.approx(pace, abs=Decimal("0.0001"))


def test_a_season_ahead_is_told_from_a_season_and_more_from_a_year():
    assert [machine_hours.look_back(days) for days in (1, 90, 91, 365, 900)] == [90, 90, 365, 365, 365]
