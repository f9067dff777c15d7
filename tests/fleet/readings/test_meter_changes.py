"""A meter is replaced or rolls over: total hours go on."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from fleet import readings
from fleet.core.errors import FleetError, NotAllowed
from fleet.models import MeterSegment, Reading
from fleet.readings import Submitted, meter_changes

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def take(house, machine, *shows_on_days):
    rows = [Submitted(machine.pk, NOON + timedelta(days=day), shows) for day, shows in shows_on_days]
    return readings.take(organisation=house.organisation, rows=rows, source="page", sender="page")


@pytest.fixture
def machine(in_farm, machine):
    take(in_farm, machine, (0, "4800"), (7, "4820"))
    return machine


def replaced(house, machine, **kwargs):
    given = {"at": NOON + timedelta(days=10), "old_shows": Decimal("4831.5"), "new_shows": Decimal("2")}
    return meter_changes.replace(machine=machine, member=house.manager, **(given | kwargs))


def test_total_hours_go_on_over_a_replaced_meter(in_farm, machine):
    segment = replaced(in_farm, machine, note="old one cracked")
    assert (segment.began, segment.offset) == ("replaced", Decimal("4829.50"))
    assert (segment.recorded_by, segment.note) == (in_farm.manager, "old one cracked")
    assert machine.hours == Decimal("4831.50")
    (receipt,) = take(in_farm, machine, (14, "22"))
    assert receipt.state == "counted"
    machine.refresh_from_db()
    assert machine.hours == Decimal("4851.50")  # 4831.5 on the old meter + 20 on the new


def test_a_late_reading_with_an_earlier_time_falls_on_the_old_meter(in_farm, machine):
    replaced(in_farm, machine)
    (receipt,) = take(in_farm, machine, (9, "4829"))
    assert receipt.state == "counted"
    assert receipt.reading.segment.began == "original"
    assert receipt.reading.hours == Decimal("4829.00")
    machine.refresh_from_db()
    assert machine.hours == Decimal("4831.50")


def test_the_end_of_the_old_meter_and_the_start_of_the_new_bound_what_is_plausible(in_farm, machine):
    replaced(in_farm, machine)
    above_old_end, below_new_start = take(in_farm, machine, (9, "4835"), (11, "1"))
    assert (above_old_end.state, above_old_end.code) == ("held", "backwards")
    assert (below_new_start.state, below_new_start.code) == ("held", "backwards")


def test_readings_held_since_the_change_are_counted_on_the_new_meter(in_farm, machine):
    held = take(in_farm, machine, (12, "8"), (13, "11"), (14, "4000"))
    assert [receipt.state for receipt in held] == ["held", "held", "held"]
    replaced(in_farm, machine)
    first, second, wrong = Reading.objects.filter(pk__in=[r.reading.pk for r in held]).order_by("taken_at")
    assert [first.state, second.state, wrong.state] == ["counted", "counted", "held"]
    assert (second.hours, second.shows) == (Decimal("4840.50"), Decimal("11.00"))
    assert second.decided_by == in_farm.manager
    machine.refresh_from_db()
    assert machine.hours == Decimal("4840.50")


def test_a_meter_rolls_over(in_farm):
    machine = in_farm.machine()
    take(in_farm, machine, (0, "9990"), (5, "9998"))
    segment = meter_changes.roll_over(
        machine=machine, at=NOON + timedelta(days=6), wraps_at=Decimal(10_000), member=in_farm.manager
    )
    assert (segment.began, segment.shows_at_start, segment.offset) == ("rolled over", 0, Decimal(10_000))
    (receipt,) = take(in_farm, machine, (8, "6.5"))
    assert (receipt.state, receipt.machine.hours) == ("counted", Decimal("10006.50"))


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"old_shows": Decimal(4819)}, "old_shows"),  # less than the last counted
        ({"old_shows": Decimal(-1)}, "old_shows"),
        ({"new_shows": Decimal(-1)}, "new_shows"),
        ({"old_shows": Decimal(4900)}, "old_shows"),  # 80 h in 3 days; a day has 24
        ({"at": NOON + timedelta(days=3)}, "at"),  # before a counted reading
        ({"at": NOON - timedelta(days=90)}, "at"),  # before the meter began
        ({"at": datetime.now(UTC) + timedelta(days=1)}, "at"),
        ({"at": datetime(2026, 3, 11, 12)}, "at"),  # noqa: DTZ001 - no time zone on purpose
    ],
)
def test_a_change_that_cannot_be_true_is_refused(in_farm, machine, change, field):
    with pytest.raises(FleetError) as error:
        replaced(in_farm, machine, **change)
    assert error.value.field == field
    assert MeterSegment.objects.filter(machine=machine).count() == 1


def test_a_change_at_the_moment_of_the_last_reading_is_consistent_with_it(in_farm, machine):
    replaced(in_farm, machine, at=NOON + timedelta(days=7), old_shows=Decimal(4820))
    assert Reading.objects.filter(machine=machine, shows=4820).count() == 1
    with pytest.raises(FleetError):
        replaced(in_farm, machine, at=NOON + timedelta(days=7, seconds=-1))


def test_a_new_meter_set_to_the_old_figure_needs_no_second_reading(in_farm, machine):
    segment = replaced(in_farm, machine, new_shows=Decimal("4831.5"))
    assert segment.offset == 0
    assert take(in_farm, machine, (12, "4840"))[0].state == "counted"


def test_it_takes_the_right_and_the_organisation(in_farm, machine, stranger):
    for member in (in_farm.technician, stranger.owner):
        with pytest.raises(NotAllowed):
            meter_changes.replace(
                machine=machine,
                at=NOON + timedelta(days=10),
                old_shows=Decimal(4821),
                new_shows=Decimal(0),
                member=member,
            )
