"""Why a machine's days are what they are, in words and as a picture."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest
import time_machine

from fleet import readings
from fleet.models import Machine
from fleet.readings import Submitted
from servicing.duties import accuracy, projection
from servicing.duties.explanation import Explanation, explain
from servicing.models import Calibration
from servicing.planning.intervals import Mark
from tests.factories import DutyFactory, MachineTypeFactory

NOW = datetime(2026, 4, 1, 9, 0, tzinfo=UTC)


def machine_running(farm, kind, per_day):
    made = farm.machine(type=kind)
    rows = [Submitted(made.pk, NOW - timedelta(days=90 - n), Decimal(per_day * n + 1)) for n in range(91)]
    with time_machine.travel(NOW, tick=False):
        readings.take(organisation=farm.organisation, rows=rows, source="page", sender="test")
    made.refresh_from_db()
    return made


@pytest.fixture
def kind(farm):
    return MachineTypeFactory(organisation=farm.organisation)


def test_a_machine_with_a_history_leans_on_itself(in_farm, kind):
    machine_running(in_farm, kind, 2)
    why = explain(machine_running(in_farm, kind, 4), mark=Decimal(400), now=NOW)
    assert why.working == pytest.approx(4, rel=0.01)
    assert (why.kin, why.borrowed < 0.5) == (1, True)


def test_a_machine_without_readings_leans_on_its_kin_alone(in_farm, kind):
    for per_day in (3, 4, 5):
        machine_running(in_farm, kind, per_day)
    fresh = in_farm.machine(type=kind)
    why = explain(fresh, mark=Decimal(50), now=NOW)
    assert (why.borrowed, why.kin) == (1, 3)
    assert 2 < why.mean < 6


def test_the_fan_widens_and_the_mark_lies_within_it(in_farm, kind):
    machine = machine_running(in_farm, kind, 4)
    fan = explain(machine, mark=Decimal(461), now=NOW).fan
    assert (fan.early <= fan.likely).all()
    assert (fan.likely <= fan.late).all()
    assert list(fan.late - fan.early) == sorted(fan.late - fan.early)
    assert (fan.have, fan.mark, fan.hours[-1]) == (361, 461, 461)


def test_a_mark_behind_has_no_fan(in_farm, kind):
    assert explain(machine_running(in_farm, kind, 4), mark=Decimal(100), now=NOW).fan is None


def test_the_page_says_it_in_words(farm, kind):
    with farm.scope():
        machine = machine_running(farm, kind, 4)
    DutyFactory(machine=machine, mark_hours=Decimal(400))
    with time_machine.travel(NOW, tick=False):
        page = farm.client("manager").get(f"/machines/{machine.pk}/").content.decode()
    assert "When it runs, about 4.0\xa0h a day lately; over all days, " in page
    assert 'class="chart-range"' in page


def test_the_page_stands_for_a_machine_that_knows_nothing(farm):
    machine = farm.machine()
    page = farm.client("manager").get(f"/machines/{machine.pk}/").content.decode()
    assert "chart-range" not in page
    assert Machine.State.READY in page


def test_the_mark_of_the_picture_is_the_earlier_one_that_a_drifting_value_asks_for(farm):
    with farm.scope():
        machine = machine_running(farm, MachineTypeFactory(organisation=farm.organisation), 4)
    DutyFactory(machine=machine, mark_hours=Decimal(430), forward_hours=Decimal(430), rule_hours=Decimal(600))
    with time_machine.travel(NOW, tick=False):
        answer = farm.client("manager").get(f"/machines/{machine.pk}/")
    assert answer.context["explanation"].fan.mark == 430


def test_the_picture_leads_up_to_the_next_mark_however_near(farm):
    """361 h read; due at 365, 400 and 800 h and, overdue, at 300 h: the next is 365 h."""
    with farm.scope():
        machine = machine_running(farm, MachineTypeFactory(organisation=farm.organisation), 4)
    for mark in (800, 300, 365, 400):
        DutyFactory(machine=machine, mark_hours=Decimal(mark))
    with time_machine.travel(NOW, tick=False):
        answer = farm.client("manager").get(f"/machines/{machine.pk}/")
    assert answer.context["explanation"].fan.mark == 365
    page = answer.content.decode()
    assert ">Due at 365.0\xa0h</text>" in page
    words = page.partition("<figcaption>")[2].partition("</figcaption>")[0]
    assert words.startswith("1 task is overdue. Next by hours: ")
    assert ", at 365.0\xa0h; likely " in words


def test_the_picture_says_the_days_that_the_table_says(farm):
    """What was worked out last night stands in both, though the fan has moved on by an hour or a day."""
    with farm.scope():
        machine = machine_running(farm, MachineTypeFactory(organisation=farm.organisation), 4)
    kept = [NOW.date() + timedelta(days=days) for days in (1, 3, 30)]
    DutyFactory(machine=machine, mark_hours=Decimal(365), early=kept[0], likely=kept[1], late=kept[2])
    with time_machine.travel(NOW, tick=False):
        page = farm.client("manager").get(f"/machines/{machine.pk}/").content.decode()
    assert ">likely Sat\xa04\xa0Apr</text>" in page
    words = page.partition("<figcaption>")[2].partition("</figcaption>")[0]
    assert "; likely Sat\xa04\xa0Apr (2\xa0Apr to 1\xa0May)" in words
    assert "Sat\xa04\xa0Apr (2\xa0Apr to 1\xa0May)" in page.partition('data-label="Likely day"')[2]


def test_the_fan_is_corrected_as_the_days_are(in_farm, kind):
    """Where this fleet has always been slower than said, so is the picture."""
    machine = machine_running(in_farm, kind, 4)
    plain = explain(machine, mark=Decimal(461), now=NOW).fan
    Calibration.objects.create(
        organisation=in_farm.organisation, early=-0.5, likely=0.8, late=2.0, outcomes=300, learned_at=NOW
    )
    corrected = explain(machine, mark=Decimal(461), now=NOW).fan
    assert (corrected.likely > plain.likely).all()
    due = projection.days([(machine, Mark(Decimal(461)))], now=NOW, correction=accuracy.correction())[0]
    drawn = np.interp(461, corrected.hours, corrected.likely)
    assert (due.likely - NOW.date()).days == pytest.approx(drawn, abs=1)


@pytest.mark.parametrize(
    ("borrowed", "kin", "said"),
    [
        (0.01, 3, "over all days, 2.0 h a day."),
        (0.27, 1, "Learned mostly from its own readings, about a quarter from one similar machine."),
        (0.5, 4, "Learned half from its own readings, half from 4 similar machines."),
        (0.7, 0, "Learned mostly from the usual use of any machine, about a third from its own readings."),
        (0.99, 2, "Too few readings yet: 2.0 h a day is a guess from 2 similar machines."),
    ],
)
def test_what_the_days_are_learned_from_is_said_in_words(borrowed, kin, said):
    why = Explanation(working=4.0, mean=2.0, borrowed=borrowed, kin=kin, fan=None)
    assert why.in_words.replace("\xa0", " ").endswith(said)
