"""Entering hours: counted, held with a suggestion, sent twice, on the yard's clock."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.models import Reading
from fleet.web.forms.readings import ReadingForm
from tests.fleet.web.rows import all_readings, held_reading, take

NEW = "/readings/new/"


def send(house, machine, shows, role="technician", **fields):
    data = {"machine": machine.pk, "shows": shows, "client_id": "a1"} | fields
    return house.client(role).post(NEW, data)


def test_hours_are_entered_and_the_receipt_is_shown(farm, machine):
    answer = send(farm, machine, "1204.5")
    (reading,) = all_readings()
    assert answer["Location"] == reverse("reading", args=[reading.pk])
    assert (reading.state, reading.shows, reading.source) == ("counted", Decimal("1204.50"), "page")
    assert reading.taken_by == farm.technician
    assert abs(timezone.now() - reading.taken_at).total_seconds() < 60
    page = farm.client("technician").get(answer["Location"])
    assert "1\u202f204.5\u00a0h was counted" in page.content.decode()


@pytest.mark.parametrize(("mark", "said"), [("", "1\u202f204.5"), (",", "1\u202f204,5")])
def test_the_page_shows_hours_as_the_reader_writes_them(farm, machine, mark, said):
    farm.technician.user.decimal_mark = mark
    farm.technician.user.save()
    page = farm.client("technician").get(NEW).content.decode()
    assert f"As the meter shows them, like {said}." in page


def test_the_asked_for_machine_is_chosen(farm, machine):
    page = farm.client("technician").get(NEW, {"machine": machine.pk})
    assert page.context["form"].initial["machine"] == machine
    assert f'<option value="{machine.pk}" selected>' in page.content.decode()


@pytest.mark.parametrize("asked", ["0", "x", "9" * 30, "-1", "²"])
def test_an_unknown_machine_is_not_found(farm, asked):
    assert farm.client("technician").get(NEW, {"machine": asked}).status_code == 404


def test_sending_twice_is_one_reading(farm, machine):
    first, second = send(farm, machine, "1204.5"), send(farm, machine, "1204.5")
    assert len(all_readings()) == 1
    assert first["Location"] == second["Location"]


def test_going_back_and_changing_the_figure_is_told_and_loses_nothing(farm, machine):
    send(farm, machine, "1204.5")
    answer = send(farm, machine, "1205.5")
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "had sent 1\u202f204.5\u00a0h for T-07 already" in text
    assert 'value="1205.5"' in text
    renewed = answer.context["form"]["client_id"].value()
    assert renewed != "a1"
    assert send(farm, machine, "1205.5", client_id=renewed).status_code == 302
    assert [reading.shows for reading in all_readings()] == [Decimal("1204.50"), Decimal("1205.50")]


def test_every_page_has_a_client_id_of_its_own(farm):
    client = farm.client("technician")
    one, two = (client.get(NEW).context["form"]["client_id"].value() for _ in range(2))
    assert len(one) == 32
    assert one != two


@pytest.mark.parametrize(
    ("typed", "shows"),
    [("1204,5", "1204.50"), ("1 204.5", "1204.50"), ("1204", "1204.00"), ("0", "0.00"), ("12,25", "12.25")],
)
def test_figures_are_read_as_people_write_them(farm, machine, typed, shows):
    assert send(farm, machine, typed).status_code == 302
    assert [reading.shows for reading in all_readings()] == [Decimal(shows)]


@pytest.mark.parametrize("typed", ["", "1,204", "1,204.5", "12:30", "-3", "1.234", "1e9", "NaN"])
def test_other_figures_are_refused_beside_the_field(farm, machine, typed):
    answer = send(farm, machine, typed)
    assert answer.status_code == 422
    assert answer.context["form"].errors.keys() == {"shows"}
    assert all_readings() == []


def test_the_time_is_the_yards(farm, machine):
    """Atlantic/Canary is an hour behind the organisation's Madrid: +00:00 in winter (IANA database)."""
    machine.yard.zone = "Atlantic/Canary"
    machine.yard.save()
    send(farm, machine, "10", taken_at="2026-01-05T08:30")
    assert [reading.taken_at for reading in all_readings()] == [datetime(2026, 1, 5, 8, 30, tzinfo=UTC)]


def test_a_time_the_clocks_left_out_is_refused(farm, machine):
    """Madrid's clocks went from 02:00 to 03:00 on 29 March 2026 (directive 2000/84/EC)."""
    answer = send(farm, machine, "10", taken_at="2026-03-29T02:30")
    assert answer.context["form"].errors.keys() == {"taken_at"}
    assert send(farm, machine, "10", taken_at="2026-03-29T03:30").status_code == 302


def test_an_implausible_figure_is_held_with_the_likely_one(farm, machine):
    with farm.scope():
        take(farm, machine, "1100")
    answer = send(farm, machine, "11240", taken_at="2026-03-08T13:00")
    page = farm.client("technician").get(answer["Location"]).content.decode()
    reading = all_readings()[-1]
    assert reading.state == "held"
    assert reading.reason in page.replace("&#x27;", "'")
    assert "Did you mean 1\u202f124.0\u00a0h?" in page


@pytest.mark.parametrize(("role", "left"), [("technician", "held"), ("counter", "discarded")])
def test_one_tap_sends_the_likely_figure(farm, role, left):
    """Who decides about readings puts it in the wrong one's place; others send it beside."""
    with farm.scope():
        reading = held_reading(farm)
    client = farm.client(role)
    page = client.get(reverse("reading", args=[reading.pk]))
    shown = page.content.decode()
    data = {"shows": "1124.00"}
    if role == "technician":
        assert f'action="{NEW}"' in shown
        data |= {
            "machine": reading.machine_id,
            "taken_at": reading.taken_at.isoformat(),
            "client_id": f"instead of {reading.pk}",
        }
        for name, value in data.items():
            assert f'name="{name}" value="{value}"' in shown
        answers = [client.post(NEW, data) for _ in range(2)]
        assert answers[0]["Location"] == answers[1]["Location"]
    else:
        target = reverse("held-reading-decide", args=[reading.pk])
        assert f'action="{target}"' in shown
        client.post(target, data | {"decision": "correct"})
    _, wrong, right = all_readings()
    assert (wrong.state, right.state) == (left, "counted")
    assert (right.shows, right.taken_at) == (Decimal("1124.00"), reading.taken_at)


def test_another_organisations_machine_cannot_be_sent(farm, stranger, machine):
    answer = send(stranger, machine, "10")
    assert answer.status_code == 422
    assert answer.context["form"].errors.keys() == {"machine"}
    assert all_readings() == []


def test_a_retired_machine_is_told_of_and_not_offered(farm, machine):
    machine.retired_on = machine.in_service_on
    machine.save()
    page = farm.client("technician").get(NEW, {"machine": machine.pk})
    assert "was retired on" in page.content.decode()
    with farm.scope():
        assert machine not in ReadingForm(member=farm.technician).fields["machine"].queryset


def test_text_that_cannot_be_kept_is_refused(farm, machine):
    assert send(farm, machine, "10", note="a\0b").status_code == 422
    assert send(farm, machine, "10", client_id="a\0b").status_code == 422
    assert send(farm, machine, "10", taken_at="soon").status_code == 422
    assert all_readings() == []


def test_states_are_all_told(farm):
    with farm.scope():
        reading = held_reading(farm)
    for state, word in Reading.State.choices:
        with farm.scope():
            Reading.objects.filter(pk=reading.pk).update(state=state)
        page = farm.client("manager").get(reverse("reading", args=[reading.pk]))
        assert word.lower() in page.content.decode().lower()
