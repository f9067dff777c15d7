"""Devices whose clock is off: held for their time, with how far off it is and what was likely meant."""

from datetime import UTC, datetime, timedelta

import pytest

from fleet import readings
from fleet.models import ApiToken
from fleet.readings import Submitted, decisions
from fleet.usage import sender_clock

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture
def send(in_farm, machine):
    """Send one reading from a box: when it says it was taken, what it shows, when it came in."""
    box, _ = ApiToken.issue(name="Shed box", created_by=in_farm.owner)

    def send(taken_at, shows, now, token=box):
        (receipt,) = readings.take(
            organisation=in_farm.organisation,
            rows=[Submitted(machine.pk, taken_at, shows)],
            source="api",
            sender="box",
            token=token,
            now=now,
        )
        return receipt

    return send


def test_a_clock_ahead_is_told_with_how_much(send):
    receipt = send(NOON + 2 * HOUR, 100, NOON)
    assert (receipt.state, receipt.code) == ("held", "from_future")
    assert receipt.reason.endswith("The clock of Shed box seems to be 2.0\u00a0h ahead.")
    assert receipt.reading.suggested_at == NOON


def test_the_least_delayed_reading_tells_most(send):
    send(NOON + 2 * HOUR, 100, NOON)
    receipt = send(NOON + 2 * HOUR, 102, NOON + HOUR)  # an hour on its way
    assert receipt.reading.suggested_at == NOON


def test_what_was_meant_can_be_put_in_its_place(in_farm, machine, send):
    reading = send(NOON + 2 * HOUR, 100, NOON).reading
    new = decisions.correct(
        reading=reading, shows=reading.shows, taken_at=reading.suggested_at, member=in_farm.manager
    )
    assert (new.state, new.taken_at, new.shows) == ("counted", NOON, 100)


def test_a_clock_steadily_behind_is_held_until_a_person_says_it_is_right(in_farm, send):
    def later(day):
        at = NOON + timedelta(days=day, minutes=17 * day)  # whenever the engine stops
        return send(at - 5 * HOUR, 100 + day, at)

    assert [later(day).state for day in range(4)] == ["counted"] * 4  # too few to tell
    receipt = later(4)
    assert (receipt.state, receipt.code) == ("held", "clock_off")
    assert "The clock of Shed box seems to be 5.0\u00a0h behind" in receipt.reason
    assert receipt.reading.suggested_at == NOON + timedelta(days=4, minutes=68)
    assert later(5).state == "held"
    decisions.count(reading=receipt.reading, member=in_farm.manager, note="It sends at noon")
    assert later(6).state == "counted"


def test_a_failing_line_is_no_wrong_clock(send):
    for day, late in enumerate([5, 1, 9, 5, 30, 2]):
        at = NOON + timedelta(days=day)
        assert send(at - late * HOUR / 2, 100 + day, at).state == "counted"


@pytest.mark.parametrize(
    "pause",
    [timedelta(days=1), timedelta(hours=6), timedelta(seconds=20)],
    ids=["nightly", "by shifts", "history"],
)
def test_who_sends_by_a_timetable_has_no_wrong_clock(send, pause):
    for number in range(8):
        at = NOON + number * pause
        assert send(at - 5 * HOUR, 100 + number * pause / HOUR / 10, at).state == "counted"


def test_a_history_sent_machine_by_machine_is_no_wrong_clock(in_farm):
    box, _ = ApiToken.issue(name="Office", created_by=in_farm.owner)
    for number in range(8):
        machine = in_farm.machine()
        rows = [Submitted(machine.pk, NOON - timedelta(days=day), 500 - 4 * day) for day in range(60)]
        facts = {"source": "api", "sender": "office", "token": box}
        now = NOON + timedelta(hours=9, seconds=30 * number)
        receipts = readings.take(organisation=in_farm.organisation, rows=rows, now=now, **facts)
        assert {receipt.state for receipt in receipts} == {"counted"}


def test_a_person_who_enters_old_readings_has_no_clock(send):
    for day in range(7):
        at = NOON + timedelta(days=day)
        assert send(at - 5 * HOUR, 100 + day, at, token=None).state == "counted"


def test_the_arithmetic():
    assert sender_clock.ahead([]) is None
    assert sender_clock.ahead([10 / 1440]) is None
    assert sender_clock.ahead([-3.0, 0.5, 0.4]) == 0.5
    at_odd_minutes = [0.0, 1.01, 2.02, 3.005, 4.03]
    assert sender_clock.behind([0.2] * 4, at_odd_minutes[:4]) is None
    assert sender_clock.behind([3.0, 0.2, 0.2, 0.2, 0.2, 0.201], [-1.0, *at_odd_minutes]) == 0.2
    assert sender_clock.behind([0.2, 0.2, 0.2, 0.2, 0.22], at_odd_minutes) is None
    assert sender_clock.behind([20 / 1440] * 5, at_odd_minutes) is None
    assert sender_clock.behind([0.2] * 5, [0.0, 1.0, 2.0, 3.0, 4.0]) is None
    around_the_full_hour = [58 / 1440, 1 + 2 / 1440, 2 + 59 / 1440, 3.0, 4 + 1 / 1440]
    assert sender_clock.behind([0.2] * 5, around_the_full_hour) is None
