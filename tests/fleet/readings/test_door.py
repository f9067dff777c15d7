"""The one door for hour readings: what is counted, held, refused or a duplicate, and what people decide."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from fleet.models import Machine, MeterSegment, Reading
from fleet.readings import Submitted, decisions, propagation
from tests.cast import build_house
from tests.fleet.readings.door import NOON, NOW, sent, take

# ---------------------------------------------------------------- in


def test_a_plausible_reading_counts_and_moves_the_machine(in_farm, machine):
    (receipt,) = take(in_farm, sent(machine, "1204.5"))
    assert (receipt.state, receipt.code, receipt.reason) == ("counted", "ok", "")
    assert receipt.machine.hours == Decimal("1204.50")
    machine.refresh_from_db()
    assert (machine.hours, machine.hours_at) == (Decimal("1204.50"), NOON)
    assert machine.projection_wanted_at == NOW


def test_a_machine_is_known_by_id_tag_or_serial_and_a_tag_wins(in_farm, machine):
    names = [machine.pk, "T-07", "t-07", "HX2-991"]
    rows = [Submitted(name, NOON + timedelta(days=n), 100 + n) for n, name in enumerate(names)]
    assert [receipt.machine.pk for receipt in take(in_farm, *rows)] == [machine.pk] * 4
    namesake = in_farm.machine(tag="HX2-991")
    assert take(in_farm, Submitted("HX2-991", NOON, 5))[0].machine.pk == namesake.pk


def test_a_tag_without_its_hyphen_is_known_unless_two_have_it(in_farm, machine):
    assert take(in_farm, Submitted("t 07", NOON, 100))[0].machine.pk == machine.pk
    in_farm.machine(tag="T0-7")
    (receipt,) = take(in_farm, Submitted("t07", NOON + timedelta(days=1), 101))
    assert receipt.code == "unknown_machine"
    assert take(in_farm, Submitted("t-07", NOON + timedelta(days=1), 101))[0].machine.pk == machine.pk


def test_each_name_of_a_machine_is_told_the_same_hours(in_farm, machine):
    names = [machine.pk, "T-07", "HX2-991"]
    rows = [Submitted(name, NOON + timedelta(days=n), 100 + n) for n, name in enumerate(names)]
    assert [receipt.machine.hours for receipt in take(in_farm, *rows)] == [102] * 3


def test_a_strangers_machine_is_unknown(in_farm, stranger):
    theirs = stranger.machine(tag="X-1")
    for name in (theirs.pk, "X-1"):
        (receipt,) = take(in_farm, Submitted(name, NOON, 5))
        assert (receipt.state, receipt.code, receipt.machine) == ("refused", "unknown_machine", None)


def test_a_machine_without_a_meter_gets_its_first(in_farm, machine):
    MeterSegment.objects.all().delete()
    assert [r.state for r in take(in_farm, sent(machine, 10), sent(machine, 12, days=1))] == ["counted"] * 2
    assert MeterSegment.objects.get().started_at == NOON


def test_rows_may_come_in_any_order(in_farm, machine):
    receipts = take(in_farm, sent(machine, 130, days=7), sent(machine, 100), sent(machine, 115, days=3))
    assert [receipt.state for receipt in receipts] == ["counted"] * 3
    assert receipts[1].machine.hours == 130


def test_a_late_reading_with_an_earlier_time_leaves_the_hours(in_farm, machine):
    take(in_farm, sent(machine, 130, days=7))
    (receipt,) = take(in_farm, sent(machine, 115, days=3))
    assert receipt.state == "counted"
    machine.refresh_from_db()
    assert (machine.hours, machine.hours_at) == (130, NOON + timedelta(days=7))


# ---------------------------------------------------------------- held


@pytest.mark.parametrize(
    ("shows", "days", "state", "code"),
    [
        ("124.0", 1, "counted", "ok"),  # a day has 24 hours
        ("124.1", 1, "counted", "ok"),  # the meter's last digit, common practice, no source
        ("124.5", 1, "held", "too_fast"),
        ("99.0", 1, "held", "backwards"),
        ("1115", 7, "held", "slipped_digit"),  # 111.5 meant
        ("110", 300, "held", "from_future"),
    ],
)
def test_what_cannot_be_true_is_held_with_a_reason(in_farm, machine, shows, days, state, code):
    take(in_farm, sent(machine, 100))
    (receipt,) = take(in_farm, sent(machine, shows, days=days))
    assert (receipt.state, receipt.code) == (state, code)
    machine.refresh_from_db()
    assert machine.hours == (Decimal(shows) if state == "counted" else 100)
    if state == "held":
        assert receipt.reading.reason == receipt.reason
        assert receipt.reason.endswith(".")


def test_the_reason_names_the_day_at_the_yard_and_the_suggestion_what_fits(in_farm, machine):
    late = datetime(2026, 3, 1, 23, 30, tzinfo=UTC)  # 00:30 of 2 March in Madrid
    take(in_farm, Submitted(machine.pk, late, 100))
    (receipt,) = take(in_farm, Submitted(machine.pk, late + timedelta(days=7), "1115"))
    assert "the 100.0\u00a0h read on 2 March 2026" in receipt.reason
    assert receipt.reading.suggestion == Decimal("111.50")


def test_a_held_reading_is_no_neighbour(in_farm, machine):
    states = [
        r.state
        for r in take(in_farm, sent(machine, 100), sent(machine, 900, days=1), sent(machine, 110, days=2))
    ]
    assert states == ["counted", "held", "counted"]


# ---------------------------------------------------------------- refused


@pytest.mark.parametrize(
    ("field", "value", "code"),
    [
        ("shows", "ten", "unreadable_hours"),
        ("shows", "1,204.5", "unreadable_hours"),
        ("shows", "", "unreadable_hours"),
        ("shows", None, "unreadable_hours"),
        ("shows", float("nan"), "unreadable_hours"),
        ("shows", float("inf"), "unreadable_hours"),
        ("shows", "10000000", "unreadable_hours"),
        ("shows", True, "unreadable_hours"),
        ("shows", "-1", "negative"),
        ("taken_at", datetime(2026, 3, 1, 12), "no_time_zone"),  # noqa: DTZ001 - on purpose
        ("taken_at", "2026-03-01T12:00:00", "no_time_zone"),
        ("taken_at", "yesterday", "unreadable_time"),
        ("taken_at", None, "unreadable_time"),
        ("taken_at", "0001-01-01T00:00:00+14:00", "unreadable_time"),
        ("machine", "T-99", "unknown_machine"),
        ("machine", "", "unknown_machine"),
        ("machine", -1, "unknown_machine"),
        ("client_id", "x" * 81, "unreadable_text"),
        ("note", "\0", "unreadable_text"),
    ],
)
def test_a_row_that_cannot_be_read_is_refused_and_sinks_nothing(in_farm, machine, field, value, code):
    row = {"machine": machine.pk, "taken_at": NOON, "shows": 100} | {field: value}
    bad, good = take(in_farm, Submitted(**row), sent(machine, 110, days=1))
    assert (bad.state, bad.code, bad.reading) == ("refused", code, None)
    assert bad.reason.endswith(".")
    assert good.state == "counted"
    assert Reading.objects.count() == 1


# ---------------------------------------------------------------- twice


def test_the_same_figure_of_the_same_moment_is_a_duplicate(in_farm, machine):
    first, twin = take(in_farm, sent(machine, 100), sent(machine, "100.00"))
    (again,) = take(in_farm, sent(machine, 100.0), sender="another box")
    assert (first.state, twin.state, again.state) == ("counted", "duplicate", "duplicate")
    assert first.reading == twin.reading == again.reading


def test_a_client_id_counts_once_for_each_sender(in_farm, machine):
    (first,) = take(in_farm, sent(machine, 100, client_id="1"))
    (again,) = take(in_farm, sent(machine, 101, days=1, client_id=1))
    assert (again.state, again.reading) == ("duplicate", first.reading)
    assert "other figures" in again.reason
    assert take(in_farm, sent(machine, 101, days=1, client_id="1"), sender="another")[0].state == "counted"


def test_a_discarded_reading_sent_again_stays_discarded(in_farm, machine):
    (receipt,) = take(in_farm, sent(machine, 100))
    decisions.discard(reading=receipt.reading, member=in_farm.manager, note="Wrong machine")
    (again,) = take(in_farm, sent(machine, 100))
    assert (again.state, again.reading.state) == ("duplicate", "discarded")


# ---------------------------------------------------------------- told


def test_others_are_told_after_commit_and_their_failure_harms_nothing(
    in_farm, machine, monkeypatch, django_capture_on_commit_callbacks, caplog
):
    told = []

    def fails(organisation_id, machine_ids):
        told.append((organisation_id, machine_ids))
        raise RuntimeError("the projection is broken")

    monkeypatch.setattr(propagation, "when_hours_move", [fails])
    with django_capture_on_commit_callbacks(execute=True):
        take(in_farm, sent(machine, 100), sent(machine, 900, days=1))
        assert told == []
    assert told == [(machine.organisation_id, [machine.pk])]
    assert "the projection is broken" in caplog.text
    with django_capture_on_commit_callbacks(execute=True):
        take(in_farm, sent(machine, 901, days=1))  # held: nothing moved
    assert told == [(machine.organisation_id, [machine.pk])]


# ---------------------------------------------------------------- queries


def test_10_rows_ask_the_same_queries_as_500(in_farm):
    """INSERTs aside: Django cuts these for SQLite, which takes 999 values in a statement. On PostgreSQL there
    are none: the rows are copied in."""

    def asked(number):
        machines = [in_farm.machine() for _ in range(5)]
        for machine in machines:
            take(in_farm, sent(machine, 100, days=-1))
        rows = [
            sent(machines[n % 5], 100 + n // 5, days=n // 5 + n / 1e6, client_id=f"{machines[0].pk}-{n}")
            for n in range(number)
        ]
        rows.append(rows[0])
        with CaptureQueriesContext(connection) as context:
            receipts = take(in_farm, *rows, now=NOW + timedelta(days=100))
        assert [receipt.state for receipt in receipts] == ["counted"] * number + ["duplicate"]
        statements = [query["sql"] for query in context.captured_queries]
        inserts = [statement for statement in statements if statement.startswith("INSERT")]
        return len(statements) - len(inserts), len(inserts)

    few, many = asked(10), asked(500)
    assert few[0] == many[0]
    if connection.vendor == "postgresql":
        assert few[1] == many[1] == 0


# ---------------------------------------------------------------- whatever comes

ANYTHING = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=8),
    st.lists(st.integers(), max_size=2),
)
MOMENTS = st.timedeltas(timedelta(), timedelta(days=365)).map(NOON.__add__)
GOOD = st.builds(
    Submitted,
    machine=st.sampled_from(["T-1", "t-2", "S-3"]),
    taken_at=MOMENTS.flatmap(lambda moment: st.sampled_from([moment, moment.isoformat()])),
    shows=st.decimals(0, 400, places=1) | st.integers(0, 20_000),
    client_id=st.none() | st.integers(0, 30),
)
BAD = st.builds(
    Submitted,
    machine=st.sampled_from(["T-1", "nobody"]) | ANYTHING,
    taken_at=MOMENTS.map(lambda moment: moment.replace(tzinfo=None)) | ANYTHING,
    shows=ANYTHING,
    client_id=ANYTHING,
    note=ANYTHING,
)
ROWS = st.lists(st.sampled_from([GOOD, GOOD, GOOD, BAD]).flatmap(lambda rows: rows), max_size=25)


class WhateverComes(TestCase):
    @settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(batches=st.lists(ROWS, min_size=1, max_size=3))
    def test_any_mix_of_rows(self, batches):
        """Nothing raises; kept = counted + held; sent again it changes nothing; hours are the latest."""
        house = build_house()
        for tag in ("T-1", "T-2", "T-3"):
            house.machine(tag=tag, serial=f"S-{tag[-1]}")
        with house.scope():
            receipts = [receipt for rows in batches for receipt in take(house, *rows)]
            for state in {receipt.state for receipt in receipts}:
                event(state)  # shown by --hypothesis-show-statistics
            kept = [receipt for receipt in receipts if receipt.state in ("counted", "held")]
            before = list(Reading.objects.order_by("pk").values())
            hours = list(Machine.objects.order_by("pk").values())
            assert len(before) == len(kept)
            assert {row["id"] for row in before} == {receipt.reading.pk for receipt in kept}
            for rows in batches:
                assert {receipt.state for receipt in take(house, *rows)} <= {"duplicate", "refused"}
            assert list(Reading.objects.order_by("pk").values()) == before
            assert list(Machine.objects.order_by("pk").values()) == hours
            for machine in Machine.objects.all():
                latest = machine.readings.counted().order_by("-taken_at", "-pk").first()
                assert machine.hours == (latest.hours if latest else 0)
