"""Held readings: the list, the three decisions, and decisions that come too late."""

from decimal import Decimal

import pytest
from django.urls import reverse

from fleet.models import Reading
from tests.fleet.web.rows import all_readings, held_reading, take

LIST = "/readings/held/"


@pytest.fixture
def reading(farm):
    with farm.scope():
        reading = held_reading(farm)
        take(farm, reading.machine, "1130.0", days=9)
    return reading


def decide(house, reading, role="counter", **data):
    return house.client(role).post(reverse("held-reading-decide", args=[reading.pk]), data)


def state_of(reading):
    return next(row for row in all_readings() if row.pk == reading.pk).state


def test_the_list_shows_reason_neighbours_and_suggestion(farm, reading):
    text = farm.client("counter").get(LIST).content.decode().replace("&#x27;", "'")
    assert reading.reason in text
    assert "Before: 1\u202f100.0\u00a0h on 1\u00a0Mar" in text
    assert "after: 1\u202f130.0\u00a0h on 10\u00a0Mar" in text
    assert "It showed 1\u202f124.0\u00a0h" in text


def test_the_menu_reads_aloud_how_many_wait(farm, reading):
    def menu():
        return farm.client("counter").get(LIST).content.decode().split("</summary>")[0]

    assert '1<span class="unseen"> held reading waits</span>' in menu()
    with farm.scope():
        held_reading(farm, farm.machine(tag="T-08"))
    assert '2<span class="unseen"> held readings wait</span>' in menu()


def test_the_list_says_when_nothing_waits(farm):
    assert "No reading is held" in farm.client("counter").get(LIST).content.decode()


def test_the_suggestion_is_filled_in(farm, reading):
    page = farm.client("counter").get(reverse("held-reading-decide", args=[reading.pk]))
    assert page.context["form"]["shows"].value() == "1124.00"
    assert page.context["form"]["decision"].value() == "correct"


def test_count_is_asked_about_where_it_contradicts_what_was_counted_later(farm, reading):
    """11 240 h, and 1 130 h nine days after the first: what is typed stays, nothing is counted."""
    answer = decide(farm, reading, decision="count", note="seen it myself")
    page = answer.content.decode().replace("\u202f", " ").replace("\xa0", " ")
    assert answer.status_code == 422
    assert "1 130.0 h in total was counted later, on" in page
    assert 'type="checkbox" name="confirmed"' in page
    assert "seen it myself" in page
    assert state_of(reading) == Reading.State.HELD


def test_count(farm, reading):
    answer = decide(farm, reading, decision="count", note="seen it myself", confirmed="on")
    assert answer["Location"] == LIST
    kept = all_readings()[1]
    assert (kept.state, kept.decided_by, kept.decision) == ("counted", farm.counter, "seen it myself")


def test_correct(farm, reading):
    assert decide(farm, reading, decision="correct", shows="1123,5").status_code == 302
    wrong, right = all_readings()[1], all_readings()[-1]
    assert (wrong.state, wrong.shows) == ("discarded", Decimal("11240.00"))
    assert (right.state, right.shows, right.corrects_id) == ("counted", Decimal("1123.50"), wrong.pk)


def test_correct_needs_a_figure(farm, reading):
    answer = decide(farm, reading, decision="correct", shows="")
    assert answer.context["form"].errors.keys() == {"shows"}


def test_a_correction_that_cannot_be_is_refused_beside_the_field(farm, reading):
    answer = decide(farm, reading, decision="correct", shows="1140")
    assert answer.status_code == 422
    assert answer.context["form"].errors.keys() == {"shows"}
    assert state_of(reading) == "held"


def test_discarding_needs_a_reason(farm, reading):
    answer = decide(farm, reading, decision="discard")
    assert answer.context["form"].errors.keys() == {"note"}
    assert decide(farm, reading, decision="discard", note="wrong machine").status_code == 302
    assert state_of(reading) == "discarded"


def test_no_decision_is_refused(farm, reading):
    assert decide(farm, reading, decision="").context["form"].errors.keys() == {"decision"}
    assert decide(farm, reading, decision="drop").context["form"].errors.keys() == {"decision"}


@pytest.mark.parametrize(
    "late",
    [{"decision": "count"}, {"decision": "discard", "note": "x"}, {"decision": "correct", "shows": "1124"}],
    ids=["count", "discard", "correct"],
)
def test_a_decision_that_comes_too_late_is_told_who_was_first(farm, reading, late):
    decide(farm, reading, role="manager", decision="discard", note="wrong machine")
    before = [(row.pk, row.state, row.decision) for row in all_readings()]
    answer = decide(farm, reading, **late)
    assert answer.status_code == 409
    text = answer.content.decode()
    assert f"{farm.manager} has discarded this reading already." in text
    assert "wrong machine" in text
    assert [(row.pk, row.state, row.decision) for row in all_readings()] == before


def test_a_decided_readings_page_leads_to_what_was_decided(farm, reading):
    decide(farm, reading, decision="discard", note="typed twice")
    page = farm.client("counter").get(reverse("held-reading-decide", args=[reading.pk]))
    assert page["Location"] == reverse("reading", args=[reading.pk])


def test_a_counted_reading_that_is_wrong_is_reached_from_its_machine_and_discarded(farm, reading):
    """The 1 130 h typed for another machine: found in the machine's readings, discarded with a reason."""
    with farm.scope():
        wrong = Reading.objects.get(shows="1130.0")
    path = reverse("reading", args=[wrong.pk])
    away = reverse("held-reading-decide", args=[wrong.pk])
    assert path in farm.client("counter").get(reverse("machine", args=[wrong.machine_id])).content.decode()
    assert away in farm.client("counter").get(path).content.decode()
    assert away not in farm.client("technician").get(path).content.decode()
    form = farm.client("counter").get(away)
    assert form.status_code == 200
    assert [value for value, _ in form.context["form"].fields["decision"].choices] == ["correct", "discard"]
    assert decide(farm, wrong, role="technician", decision="discard", note="x").status_code == 403
    nothing_said = decide(farm, wrong, decision="discard", note=" ", shows="1 2")
    assert nothing_said.status_code == 422
    assert "Say why" in nothing_said.content.decode()
    answer = decide(farm, wrong, decision="discard", note="of T-09")
    assert answer["Location"] == reverse("machine", args=[wrong.machine_id])
    with farm.scope():
        wrong.refresh_from_db()
        assert (wrong.state, wrong.decision, wrong.decided_by) == ("discarded", "of T-09", farm.counter)
        assert wrong.machine.hours < 1130


def test_a_counted_reading_is_put_right(farm, reading):
    with farm.scope():
        wrong = Reading.objects.get(shows="1130.0")
    answer = decide(farm, wrong, decision="correct", shows="1131,5", note="read again")
    assert answer["Location"] == reverse("machine", args=[wrong.machine_id])
    with farm.scope():
        wrong.refresh_from_db()
        assert wrong.state == "discarded"
        assert wrong.machine.hours == Decimal("1131.5")


def test_a_technician_decides_nothing(farm, reading):
    assert decide(farm, reading, role="technician", decision="count").status_code == 403
    assert state_of(reading) == Reading.State.HELD
