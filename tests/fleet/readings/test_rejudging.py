"""Readings judged again by what came in or was decided since: order doesn't matter, and decisions stand."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from fleet import readings
from fleet.models import Decision, Machine, Reading
from fleet.readings import Submitted, decisions, meter_changes
from tests.cast import build_house

NOON = datetime(2024, 3, 1, 12, tzinfo=UTC)
NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)


def take(house, machine, *shows_on_days):
    rows = [Submitted(machine.pk, NOON + timedelta(days=day), str(shows)) for day, shows in shows_on_days]
    return readings.take(organisation=house.organisation, rows=rows, source="api", sender="box", now=NOW)


def states(machine):
    kept = machine.readings.order_by("taken_at", "shows")
    return [(float(reading.shows), reading.state) for reading in kept]


def test_a_late_arrival_between_later_ones_counts_and_moves_the_history(in_farm, machine):
    take(in_farm, machine, (0, 100), (10, 140))
    Machine.objects.update(projection_wanted_at=None)
    (receipt,) = take(in_farm, machine, (5, 130))
    assert receipt.state == "counted"
    machine.refresh_from_db()
    assert (machine.hours, machine.projection_wanted_at) == (140, NOW)  # the sweep projects it again


def test_discarding_the_wrong_one_lets_the_right_ones_in(in_farm, machine):
    (first,) = take(in_farm, machine, (0, 9999))
    held = take(in_farm, machine, (2, 104), (4, 108), (6, 112))
    assert [receipt.state for receipt in held] == ["held"] * 3
    decisions.discard(reading=first.reading, member=in_farm.manager, note="Read off another dial")
    assert [state for _, state in states(machine)] == ["discarded"] + ["counted"] * 3
    machine.refresh_from_db()
    assert machine.hours == 112
    by_itself = Decision.objects.filter(kind=Decision.Kind.BY_ITSELF)
    assert {(each.was, each.became, each.by) for each in by_itself} == {("held", "counted", None)}
    assert by_itself.count() == 3


def test_what_looks_like_a_slip_by_what_is_known_since_is_held(in_farm, machine):
    (receipt,) = take(in_farm, machine, (90, 560))
    assert receipt.state == "counted"  # nothing was known of the machine
    take(in_farm, machine, (0, 50), (30, 52), (60, 55))
    late = machine.readings.get(shows=560)
    assert (late.state, late.code, late.suggestion) == ("held", "slipped_digit", Decimal("56.00"))
    machine.refresh_from_db()
    assert machine.hours == 55


def test_a_receipt_says_what_became_of_a_reading_once_its_whole_batch_was_known(in_farm, machine):
    """57 h can't follow 560 h, until the three before it show that 560 h was a slip."""
    take(in_farm, machine, (90, 560))
    receipts = take(in_farm, machine, (0, 50), (30, 52), (60, 55), (91, 57))
    kept = [receipt.reading for receipt in receipts]
    assert [receipt.state for receipt in receipts] == [reading.state for reading in kept] == ["counted"] * 4
    assert [receipt.code for receipt in receipts] == [reading.code for reading in kept]
    assert {receipt.machine.hours for receipt in receipts} == {Decimal(57)}


def test_a_late_arrival_on_the_old_meter_leaves_the_new_one_where_it_began(in_farm, machine):
    machine.segments.update(started_at=NOON)
    take(in_farm, machine, (0, 100), (10, 140))
    at = NOON + timedelta(days=10)
    meter_changes.replace(
        machine=machine, at=at, old_shows=Decimal(140), new_shows=Decimal(0), member=in_farm.manager
    )
    began = machine.readings.get(taken_at=at, shows=0)
    decisions.discard(reading=began, member=in_farm.manager, note="The page stays, the figure stands")
    (held,) = take(in_farm, machine, (11, 60))  # 60 h in a day
    assert held.state == "held"
    (late,) = take(in_farm, machine, (5, 120))
    assert late.state == "counted"
    assert held.reading.state == "held"


def test_a_persons_decision_is_not_judged_anew(in_farm, machine):
    take(in_farm, machine, (0, 50), (30, 52), (60, 55))
    (receipt,) = take(in_farm, machine, (90, 560))
    decisions.count(reading=receipt.reading, member=in_farm.manager, note="Ran night and day")
    take(in_farm, machine, (45, 53))
    assert machine.readings.get(shows=560).state == "counted"


def test_one_whose_clock_is_wrong_never_counts_by_itself(in_farm, machine):
    (receipt,) = take(in_farm, machine, (900, 50))
    assert receipt.code == "from_future"
    take(in_farm, machine, (0, 40), (-5, 39))
    assert receipt.reading.decisions.count() == 0
    assert Reading.objects.get(pk=receipt.reading.pk).state == "held"


STEPS = st.lists(st.tuples(st.integers(1, 60 * 24), st.floats(0, 24)), min_size=2, max_size=9)


def history(steps):
    """Readings that don't contradict each other: steps of (hours since the last, hours a day)."""
    at, hours, rows = NOON, Decimal(20), []
    for gap, rate in steps:
        at += timedelta(hours=gap)
        hours = (hours + Decimal(gap * rate / 24)).quantize(Decimal("0.1"))
        rows.append((at, hours))
    return rows


class WhateverTheOrder(TestCase):
    @settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(steps=STEPS, data=st.data())
    def test_the_same_readings_end_counted(self, steps, data):
        """The same set, in any order and in any batches, ends with the same history and the same hours."""
        house = build_house()
        rows = history(steps)
        ends = []
        for tag, order in (("T-1", rows), ("T-2", data.draw(st.permutations(rows)))):
            machine = house.machine(tag=tag)
            cuts = data.draw(st.sets(st.integers(1, len(rows)), max_size=len(rows)))
            batches = [
                order[a:b] for a, b in zip([0, *sorted(cuts)], [*sorted(cuts), len(rows)], strict=True)
            ]
            with house.scope():
                for batch in filter(None, batches):
                    readings.take(
                        organisation=house.organisation,
                        rows=[Submitted(tag, at, hours) for at, hours in batch],
                        source="api",
                        sender="box",
                        now=NOW,
                    )
                machine.refresh_from_db()
                kept = machine.readings.order_by("taken_at", "shows")
                ends.append((list(kept.values_list("taken_at", "shows", "state", "code")), machine.hours))
        event("something held" if any(row[2] == "held" for row in ends[0][0]) else "all counted")
        assert ends[0] == ends[1]
        if all(rate < 6 for _, rate in steps):  # no habit makes that look like a slip
            assert {row[2] for row in ends[0][0]} == {"counted"}
