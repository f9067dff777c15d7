"""Why a machine's days are what they are, in words and as a picture."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest
import time_machine

from fleet import readings
from fleet.models import Machine
from fleet.readings import Submitted
from servicing import projection, track
from servicing.explain import explain
from servicing.models import Calibration
from servicing.planning.intervals import Mark
from servicing.web.fan import picture
from tests.factories import DutyFactory, MachineFactory, MachineTypeFactory

NOW = datetime(2026, 4, 1, 9, 0, tzinfo=UTC)


def machine_running(farm, kind, per_day):
    made = MachineFactory(organisation=farm.organisation, yard=farm.yard, type=kind)
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
    fresh = MachineFactory(organisation=in_farm.organisation, yard=in_farm.yard, type=kind)
    why = explain(fresh, mark=Decimal(50), now=NOW)
    assert (why.borrowed, why.kin) == (1, 3)
    assert 2 < why.mean < 6


def test_the_fan_widens_and_the_mark_lies_within_it(in_farm, kind):
    machine = machine_running(in_farm, kind, 4)
    fan = explain(machine, mark=Decimal(461), now=NOW).fan
    assert (fan.early <= fan.likely).all()
    assert (fan.likely <= fan.late).all()
    assert list(fan.late - fan.early) == sorted(fan.late - fan.early)
    drawn = picture(fan)
    assert drawn.today_x < drawn.mark_from <= drawn.mark_tick <= drawn.mark_to <= 100
    assert 0 < drawn.mark_y < drawn.now_y <= 100


def test_a_mark_behind_has_no_fan(in_farm, kind):
    assert explain(machine_running(in_farm, kind, 4), mark=Decimal(100), now=NOW).fan is None


def test_the_page_says_it_in_words(farm, kind):
    with farm.scope():
        machine = machine_running(farm, kind, 4)
    DutyFactory(machine=machine, mark_hours=Decimal(400))
    with time_machine.travel(NOW, tick=False):
        page = farm.client("manager").get(f"/machines/{machine.pk}/").content.decode()
    assert "Lately about 4.0 h a day when it runs" in page
    assert 'class="fan-area"' in page


def test_the_page_stands_for_a_machine_that_knows_nothing(farm):
    machine = MachineFactory(organisation=farm.organisation, yard=farm.yard)
    page = farm.client("manager").get(f"/machines/{machine.pk}/").content.decode()
    assert "fan-area" not in page
    assert Machine.State.READY in page


def test_the_mark_of_the_picture_is_the_earlier_one_that_a_drifting_value_asks_for(farm):
    with farm.scope():
        machine = machine_running(farm, MachineTypeFactory(organisation=farm.organisation), 4)
    DutyFactory(machine=machine, mark_hours=Decimal(430), forward_hours=Decimal(430), rule_hours=Decimal(600))
    with time_machine.travel(NOW, tick=False):
        answer = farm.client("manager").get(f"/machines/{machine.pk}/")
    assert answer.context["explanation"].fan.mark == 430


def test_the_fan_is_corrected_as_the_days_are(in_farm, kind):
    """Where this fleet has always been slower than said, so is the picture."""
    machine = machine_running(in_farm, kind, 4)
    plain = explain(machine, mark=Decimal(461), now=NOW).fan
    Calibration.objects.create(
        organisation=in_farm.organisation, early=-0.5, likely=0.8, late=2.0, outcomes=300, learned_at=NOW
    )
    corrected = explain(machine, mark=Decimal(461), now=NOW).fan
    assert (corrected.likely > plain.likely).all()
    due = projection.days([(machine, Mark(Decimal(461)))], now=NOW, correction=track.correction())[0]
    drawn = np.interp(461, corrected.hours, corrected.likely)
    assert (due.likely - NOW.date()).days == pytest.approx(drawn, abs=1)
