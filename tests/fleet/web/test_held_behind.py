"""What the page of held readings proposes: one tap each, and nothing done by itself."""

from datetime import UTC, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.models import ApiToken, Machine, MeterSegment, Reading
from tests.fleet.web.rows import all_readings, take, text_of

LIST = "/readings/held/"


def entries(house, role="manager"):
    answer = house.client(role).get(LIST)
    return [text_of(answer)], answer.context["cases"]


@pytest.fixture
def mixed(farm):
    with farm.scope():
        one, other = farm.machine(tag="T-1"), farm.machine(tag="T-2")
        take(farm, one, "1200"), take(farm, other, "3000")
        return [take(farm, one, "3009", days=2).reading, take(farm, other, "1206", days=2).reading]


def test_two_mixed_up_are_shown_together_and_swapped_by_one_tap(farm, mixed):
    (text,), found = entries(farm)
    assert len(found) == 1
    assert "whose 1 206.0 h of 3 Mar, 13:00 would fit T-1. Were the two mixed up?" in text
    address = reverse("reading-swap", args=[mixed[0].pk, mixed[1].pk])
    assert address in text
    assert [reading.state for reading in all_readings()][2:] == ["held", "held"]  # by looking nothing is done
    answer = farm.client("counter").post(address, follow=True)
    assert "T-1 now has 1 206.0 h, and T-2 has 3 009.0 h." in text_of(answer)
    with farm.scope():
        assert dict(Machine.objects.values_list("tag", "hours")) == {"T-1": 1206, "T-2": 3009}
    again = farm.client("counter").post(address)
    assert again.status_code == 409
    assert "has discarded this reading already" in text_of(again)


@pytest.mark.parametrize(("hours", "same_round"), [(0, True), (12, True), (12.1, False)])
def test_a_held_one_and_a_counted_one_of_the_same_round_may_be_mixed_up_too(farm, hours, same_round):
    with farm.scope():
        one, other = farm.machine(tag="T-1"), farm.machine(tag="T-2")
        take(farm, one, "1200"), take(farm, other, "1210")
        assert take(farm, one, "1212", days=2).state == "counted"
        assert take(farm, other, "1203", days=2 + hours / 24).state == "held"
    (text,), (case,) = entries(farm)
    assert (case.swap is not None and case.swap.machine.tag == "T-1") is same_round
    assert ("whose 1 212.0 h" in text) is same_round


@pytest.mark.parametrize(("apart", "asked"), [(2.0, True), (2.01, False)])
def test_two_held_ones_more_than_two_days_apart_were_not_mixed_up(farm, apart, asked):
    with farm.scope():
        one, other = farm.machine(tag="T-1"), farm.machine(tag="T-2")
        take(farm, one, "1200"), take(farm, other, "3000")
        take(farm, one, "3009", days=2), take(farm, other, "1206", days=2 + apart)
    texts, _ = entries(farm)
    assert any("Were the two mixed up?" in text for text in texts) is asked


def test_a_stranger_swaps_nothing(farm, stranger, mixed):
    address = reverse("reading-swap", args=[mixed[0].pk, mixed[1].pk])
    assert stranger.client("owner").post(address).status_code == 404
    assert farm.client("technician").post(address).status_code == 403
    assert [reading.state for reading in all_readings()][2:] == ["held", "held"]


@pytest.fixture
def lows(farm):
    with farm.scope():
        machine = farm.machine(tag="T-7")
        take(farm, machine, "4800"), take(farm, machine, "4820", days=7)
        return [
            take(farm, machine, shows, days=days).reading
            for days, shows in ((9, "8"), (10, "14"), (12, "26"))
        ]


def test_a_meter_replaced_without_being_told_is_asked_about_once(farm, lows):
    (text,), found = entries(farm)
    assert len(found) == 1  # the three are one question
    assert "3 readings follow on from each other, from 8.0 h on 10 Mar to 26.0 h on 13 Mar" in text
    address = f"{reverse('meter-replace', args=[lows[0].machine_id])}?held={lows[0].pk}"
    assert address in text
    page = farm.client("manager").get(address)
    form = page.context["replaced"]
    assert form.initial == {"at": "2026-03-08T13:00", "old_shows": "4820", "new_shows": "0"}
    sent = {"happened": "replaced", **form.initial}
    assert farm.client("manager").post(address, sent).status_code == 302
    assert [reading.state for reading in all_readings()].count("held") == 0
    with farm.scope():
        assert Machine.objects.get().hours == 4846


def test_who_may_not_change_meters_is_told_who_may(farm, lows):
    (text,), _ = entries(farm, "counter")
    assert "A manager can record the meter change." in text
    assert "Yes, record the new meter" not in text


def test_one_low_reading_asks_nothing(farm):
    with farm.scope():
        machine = farm.machine()
        take(farm, machine, "4820"), take(farm, machine, "8", days=2)
    _, (case,) = entries(farm)
    assert (case.change, case.swap) == (None, None)


def test_a_rollover_is_proposed_and_noted_by_two_taps(farm):
    with farm.scope():
        machine = farm.machine(tag="T-9")
        take(farm, machine, "9990")
        reading = take(farm, machine, "6", days=4).reading
    (text,), _ = entries(farm)
    assert "Did the meter pass 10 000 h about 4 Mar and start again at zero?" in text
    address = f"{reverse('meter-replace', args=[machine.pk])}?held={reading.pk}"
    form = farm.client("manager").get(address).context["rolled_over"]
    assert form.initial == {"at": "2026-03-04T01:00", "wraps_at": "10000"}  # 10 of 16 h on the way
    answer = farm.client("manager").post(address, {"happened": "rolled over", **form.initial})
    assert answer.status_code == 302
    with farm.scope():
        assert Machine.objects.get().hours == 10_006
        assert MeterSegment.objects.last().began == "rolled over"


def test_a_wrong_clock_offers_the_time_that_was_meant(farm):
    with farm.scope():
        box, _ = ApiToken.issue(name="Shed box", created_by=farm.owner)
        machine = farm.machine()
        receipt = take(farm, machine, "100", token=box, member=None, now=datetime(2026, 3, 1, 10, tzinfo=UTC))
    (text,), _ = entries(farm)
    assert "seems to be 2.0 h ahead" in text
    assert "It was read 1 Mar, 11:00" in text
    data = {"decision": "correct", "shows": "100.00", "taken_at": receipt.reading.suggested_at.isoformat()}
    answer = farm.client("counter").post(reverse("held-reading-decide", args=[receipt.reading.pk]), data)
    assert answer.status_code == 302
    assert [(row.taken_at.hour, row.state) for row in all_readings()] == [(12, "discarded"), (10, "counted")]


def test_a_decision_is_told_with_name_and_time_and_undone(farm, lows):
    client = farm.client("counter")
    client.post(reverse("held-reading-decide", args=[lows[0].pk]), {"decision": "discard", "note": "No such"})
    page = reverse("reading", args=[lows[0].pk])
    assert f"{farm.counter}, " in text_of(client.get(page))
    assert "Undo the last decision" in text_of(client.get(page))
    assert "Undo the last decision" not in text_of(farm.client("technician").get(page))
    answer = client.post(reverse("reading-undo", args=[lows[0].pk]), {"note": "There was"}, follow=True)
    text = text_of(answer)
    assert "Undone: 8.0 h is held." in text
    assert "There was" in text
    assert "Undo the last decision" not in text
    assert client.post(reverse("reading-undo", args=[lows[0].pk])).status_code == 409


def test_many_held_readings_ask_as_few_queries(farm, mixed, lows):
    client = farm.client("manager")
    client.get(LIST)

    def asked():
        with CaptureQueriesContext(connection) as context:
            assert client.get(LIST).status_code == 200
        return len(context)

    few = asked()
    with farm.scope():
        for number in range(6):
            machine = farm.machine(tag=f"M-{number}")
            take(farm, machine, "4820")
            take(farm, machine, "8", days=2), take(farm, machine, "14", days=4)
        assert Reading.objects.held().count() == 17
    assert asked() == few
