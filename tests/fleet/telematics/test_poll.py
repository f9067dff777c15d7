"""A source is read over real HTTP: what comes in, what it leaves behind, and when it is tried again."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import partial
from pathlib import Path

import pytest

from fixtures.telematics.server import as_json, as_xml
from fleet.models import Machine, Reading, TelematicsSource, TelematicsUnit
from fleet.telematics import credentials
from fleet.telematics import poll as telematics
from tests.factories import MachineTypeFactory, TelematicsSourceFactory
from tests.fleet.telematics.conftest import NOW, unit

pytestmark = pytest.mark.django_db


def read(source, *, now=NOW, forced=True):
    good = telematics.read(source=source, forced=forced, now=now)
    source.refresh_from_db()
    return good


def _asking_to_wait(until, handler):
    handler.answer(503, b"", Retry_After=until)


def kept(machine):
    return list(machine.readings.order_by("taken_at").values_list("shows", "state"))


def test_hours_become_a_reading_of_the_machine(source, machine, provider):
    assert read(source)
    (reading,) = machine.readings.all()
    assert (reading.shows, reading.state) == (Decimal("104.50"), "counted")
    assert reading.taken_at == datetime.fromisoformat("2026-03-02T05:41:00+00:00")
    assert (reading.source, reading.sender) == ("telematics", "Feed")
    machine.refresh_from_db()
    assert machine.hours == Decimal("104.50")
    assert machine.projection_wanted_at is not None
    assert source.state == "good"
    assert source.good_at == NOW
    assert source.units_seen == 1
    assert source.outcome == "1 page, 1 unit; hours: 1 counted."


def test_the_sample_snapshot_comes_in(source, in_farm, provider):
    """`sample.xml`: what its units must give is written beside it in the check values of this project."""
    for tag, model in (("YARD-07", "T 100"), ("YARD-08", "L40"), ("YARD-09", "L 40 F")):
        kind = MachineTypeFactory(organisation=in_farm.organisation, maker="Example", model=model)
        in_farm.machine(tag=tag, type=kind)
    sample = (Path(__file__).parent / "sample.xml").read_bytes()
    provider.special["/Fleet/1"] = lambda handler: handler.answer(200, sample)
    provider.special["/Fleet/2"] = lambda handler: handler.answer(200, as_xml([], {}, "").encode())
    assert read(source)
    found = Reading.objects.order_by("machine__tag").values_list("machine__tag", "shows", "taken_at", "state")
    assert list(found) == [
        ("YARD-07", Decimal("1004.25"), datetime(2026, 3, 2, 5, 41, tzinfo=UTC), "counted"),
        ("YARD-09", Decimal("233.70"), datetime(2026, 3, 1, 17, 8, 34, tzinfo=UTC), "counted"),
    ]
    told = TelematicsUnit.objects.get(machine__tag="YARD-07")
    assert (told.pin, told.fuel_percent, told.fuel_used) == ("1XMT100XABC000123", 62, 9120)
    assert [path for path, _ in provider.seen] == ["/Fleet/1", "/Fleet/2"]


def test_a_snapshot_read_twice_doubles_nothing(source, machine):
    for _ in range(3):
        assert read(source)
    assert kept(machine) == [(Decimal("104.50"), "counted")]
    assert TelematicsUnit.objects.get().receipt == "counted"


def test_nor_does_it_when_the_source_has_another_name_by_then(source, machine):
    read(source)
    source.name = "Other"
    source.save()
    assert read(source)
    assert len(kept(machine)) == 1


def test_hours_backwards_are_held_and_the_page_says_so(source, machine, provider):
    read(source)
    provider.told[:] = [unit(hours="90", hours_at="2026-03-02T05:55:00Z")]
    assert read(source)
    assert [state for _, state in kept(machine)] == ["counted", "held"]
    (told,) = TelematicsUnit.objects.all()
    assert told.receipt == "held"
    assert told.receipt_reason == Reading.objects.held().get().reason != ""


def test_a_time_to_come_is_held_and_moves_nothing(source, machine, provider):
    provider.told[:] = [
        unit(
            hours_at="2026-03-09T05:41:00Z",
            latitude="41.6",
            longitude="-93.7",
            location_at="2026-03-09T05:41:00Z",
        )
    ]
    assert read(source)
    assert [state for _, state in kept(machine)] == ["held"]
    told = TelematicsUnit.objects.get()
    assert told.receipt == "held"
    assert told.receipt_reason
    assert told.location_at is None


@pytest.mark.parametrize(("seconds", "kept"), [(600, True), (601, False)])
def test_a_place_told_by_a_clock_ten_minutes_fast_is_kept(source, machine, provider, seconds, kept):
    told_at = (NOW + timedelta(seconds=seconds)).isoformat()
    provider.told[:] = [unit(latitude="41.6", longitude="-93.7", location_at=told_at)]
    assert read(source)
    assert (TelematicsUnit.objects.get().location_at is not None) is kept


@pytest.mark.parametrize(
    ("facts", "why"),
    [
        ({"hours": "many"}, "can't be read"),
        ({"hours": "-4"}, "less than 0 h"),
        ({"hours_at": "2026-13-02T05:41:00"}, "can't be read"),
        ({"hours_at": "0001-01-01T00:00:00Z"}, "can't be right"),
        ({"hours_at": "yesterday"}, "can't be read"),
    ],
)
def test_hours_that_cannot_be_read_are_refused_for_this_unit_alone(
    source, machine, in_farm, provider, facts, why
):
    in_farm.machine(tag="T-08")
    provider.told[:] = [unit(**facts), unit(serial="", equipment_id="t-08")]
    assert read(source)
    assert kept(machine) == []
    assert len(kept(Machine.objects.get(tag="T-08"))) == 1
    told = TelematicsUnit.objects.get(serial="K-1")
    assert told.receipt == "refused"
    assert why in told.receipt_reason
    assert "1 refused" in source.outcome


def test_no_hours_is_no_reading_and_not_zero(source, machine, provider):
    provider.told[:] = [unit(hours="")]
    assert read(source)
    assert kept(machine) == []
    assert TelematicsUnit.objects.get().receipt_reason == "The last snapshot gave no hours for it."


def test_the_same_hours_after_a_snapshot_without_any_are_no_longer_said_to_be_missing(
    source, machine, provider
):
    for told in (unit(), unit(hours=""), unit()):
        provider.told[:] = [told]
        assert read(source)
    assert len(kept(machine)) == 1
    told = TelematicsUnit.objects.get()
    assert (told.receipt, told.receipt_reason) == ("duplicate", "This reading was received already.")


def test_place_and_fuel_are_kept_with_their_own_time_and_only_newer_ones(source, machine, provider):
    place = {"latitude": "41.6611", "longitude": "-93.7442", "location_at": "2026-03-02T05:58:10Z"}
    fuel = {"fuel_percent": "62", "fuel_at": "2026-03-02T05:41:00Z"}
    provider.told[:] = [unit(**place, **fuel)]
    read(source)
    older = {"latitude": "1", "longitude": "1", "location_at": "2026-03-01T05:58:10Z"}
    provider.told[:] = [unit(**older, fuel_percent="300", fuel_at="2026-03-02T05:59:00Z")]
    read(source)
    told = machine.telematics_units.get()
    assert (told.latitude, told.longitude) == (Decimal("41.661100"), Decimal("-93.744200"))
    assert told.location_at.isoformat() == "2026-03-02T05:58:10+00:00"
    assert (told.fuel_percent, told.fuel_at.minute) == (62, 41)
    provider.told[:] = [unit(latitude="0", longitude="0", location_at="2026-03-02T05:59:00Z")]
    read(source)
    assert machine.telematics_units.get().latitude == Decimal("41.661100")


def test_pages_are_followed_and_a_unit_that_moved_between_them_counts_once(source, in_farm, provider):
    tags = [f"Q-{n}" for n in range(5)]
    for tag in tags:
        in_farm.machine(tag=tag)
    provider.per_page = 2
    later = unit(serial="", equipment_id="Q-0", hours="105", hours_at="2026-03-02T05:50:00Z")
    provider.told[:] = [*(unit(serial="", equipment_id=tag) for tag in tags), later]
    assert read(source)
    assert source.outcome == "3 pages, 5 units; hours: 5 counted."
    assert [path for path, _ in provider.seen] == ["/Fleet/1", "/Fleet/2", "/Fleet/3"]
    assert kept(Machine.objects.get(tag="Q-0")) == [(Decimal("105.00"), "counted")]


def test_the_json_form(source, machine, provider):
    provider.special["/Fleet/1"] = lambda handler: handler.answer(
        200, as_json(provider.told, {"next": "/more"}, "").encode(), "application/json"
    )
    provider.special["/more"] = lambda handler: handler.answer(
        200, as_json([unit(serial="K-2")], {}, "").encode(), "application/json"
    )
    assert read(source)
    assert source.outcome == "2 pages, 2 units; hours: 1 counted; 1 waits to be linked."
    assert kept(machine) == [(Decimal("104.50"), "counted")]


def test_the_login_is_sent_as_it_was_entered(source, machine, provider):
    provider.expected = "Bearer t0ken"
    source.login, source.secret = "bearer", credentials.lock("t0ken")
    source.save()
    assert read(source)
    assert "t0ken" not in source.secret


class TestWhenItIsTried:
    def test_the_next_time_is_about_as_far_as_the_source_says(self, source, machine):
        read(source)
        wait = source.next_try_at - NOW
        assert timedelta(minutes=54) <= wait <= timedelta(minutes=66)

    def test_it_is_not_read_before_it_is_due_or_when_switched_off(self, source, machine, provider):
        source.next_try_at = NOW + timedelta(minutes=1)
        source.save()
        assert not read(source, forced=False)
        source.next_try_at, source.active = NOW, False
        source.save()
        assert not read(source, forced=False)
        assert provider.seen == []

    def test_nor_while_somebody_reads_it_unless_that_one_died(self, source, machine, provider):
        TelematicsSource.objects.update(busy_until=NOW + timedelta(minutes=2))
        assert not read(source)
        assert provider.seen == []
        assert read(source, now=NOW + timedelta(minutes=3))

    def test_a_reader_is_taken_for_dead_once_no_task_can_run_any_more(
        self, source, machine, provider, settings, monkeypatch
    ):
        read_whole, kept_until = telematics._read, []

        def looked_at(reading, *arguments):
            kept_until.append(TelematicsSource.objects.get().busy_until - NOW)
            read_whole(reading, *arguments)

        monkeypatch.setattr(telematics, "_read", looked_at)
        assert read(source)
        assert kept_until == [timedelta(seconds=settings.CELERY_TASK_TIME_LIMIT)] == [timedelta(minutes=15)]
        for moment, taken in [(timedelta(minutes=15) - timedelta(seconds=1), False), (kept_until[0], True)]:
            TelematicsSource.objects.update(busy_until=NOW + kept_until[0])
            assert read(source, now=NOW + moment) is taken

    def test_chance_moves_a_wait_by_a_tenth_at_most(self, monkeypatch):
        asked = []
        monkeypatch.setattr("random.uniform", lambda *ends: asked.append(ends) or ends[0])
        assert telematics.spread(timedelta(minutes=60)) == timedelta(minutes=54)
        assert asked == [(0.9, 1.1)]

    def test_failures_wait_longer_each_time_and_a_good_one_ends_it(self, source, machine, provider):
        trouble = dict.fromkeys(["/Fleet/1"], lambda handler: handler.answer(500, b""))
        provider.special.update(trouble)
        now, waits = NOW, []
        for _ in range(12):
            assert not read(source, now=now)
            waits.append((source.next_try_at - now) / timedelta(minutes=1))
            now = source.next_try_at
        for number, wait in enumerate(waits):
            expected = min(5 * 2**number, 24 * 60)
            assert 0.9 * expected <= wait <= 1.1 * expected
        assert (source.failures, source.state) == (12, "failing")
        assert source.error == "The server reports an error of its own (500)."
        provider.special.clear()
        assert read(source, now=now)
        assert (source.failures, source.state) == (0, "good")
        assert source.error  # the last error stays to be seen, with its time
        assert source.error_at < source.good_at

    def test_a_server_that_asks_for_a_pause_gets_it(self, source, provider):
        provider.special["/Fleet/1"] = lambda handler: handler.answer(429, b"", Retry_After="7200")
        assert not read(source)
        assert source.next_try_at - NOW >= timedelta(hours=2)

    def test_a_pause_may_be_asked_for_until_a_moment(self, source, provider):
        """RFC 9110, 10.2.3; the moment is held against our clock, and a day is the longest."""
        until = {"Mon, 02 Mar 2026 09:00:30 GMT": 3.0, "Mon, 09 Mar 2026 06:00:30 GMT": 24.0}
        for said, hours in until.items():
            answer = partial(_asking_to_wait, said)
            provider.special["/Fleet/1"] = answer
            assert not read(source)
            assert timedelta(hours=hours) <= source.next_try_at - NOW < timedelta(hours=hours + 0.1)
        provider.special["/Fleet/1"] = partial(_asking_to_wait, "soon")
        assert not read(source)
        assert source.next_try_at - NOW < timedelta(hours=1)

    def test_a_wrong_login_is_not_tried_sooner_than_usual(self, source, provider):
        provider.expected = "Basic right"
        assert not read(source)
        assert "refuses the login (401)" in source.error
        assert source.next_try_at - NOW >= timedelta(minutes=54)


def test_a_lost_key_is_said_on_the_source(source, provider, settings):
    source.login, source.secret = "bearer", credentials.lock("t0ken")
    source.save()
    settings.CREDENTIAL_KEYS = [type(settings.CREDENTIAL_KEYS[0])(b"A" * 43 + b"=")]
    assert not read(source)
    assert source.error == credentials.LOST
    assert provider.seen == []


def test_what_fails_here_is_noted_and_not_hidden(source, machine, monkeypatch):
    def broken(**kwargs):
        raise RuntimeError("disk full")

    monkeypatch.setattr("fleet.telematics.apply_snapshot.send_readings.send", broken)
    with pytest.raises(RuntimeError):
        read(source)
    source.refresh_from_db()
    assert source.error == telematics.OURS
    assert source.busy_until is None
    assert TelematicsUnit.objects.count() == 0


def test_two_organisations_with_the_same_serial_number_keep_apart(source, machine, stranger, provider):
    with stranger.scope():
        theirs = stranger.machine(serial="K-1")
        other = TelematicsSourceFactory(organisation=stranger.organisation, url=provider.address)
        assert read(other)
        assert len(kept(theirs)) == 1
    assert kept(machine) == []
