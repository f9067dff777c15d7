"""What we said is kept, compared with the readings, learned from and shown."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet import readings
from fleet.models import Machine
from fleet.readings import Submitted
from fleet.usage import calibration
from servicing.duties import accuracy
from servicing.duties.scorecard import scorecard
from servicing.models import Calibration, Duty, KeptProjection
from servicing.tasks import project_organisation
from tests.factories import DutyFactory, IntervalFactory, ProgramFactory, ProgramVersionFactory, TaskFactory
from tests.servicing.duties.nights import night

START = datetime(2026, 1, 5, 18, 0, tzinfo=UTC)
NOW = START + timedelta(days=60)


def run(farm, machine, *, days, per_day=4, first=0):
    """Readings every day, `per_day` hours a day, from day `first` on."""
    rows = [
        Submitted(machine.pk, START + timedelta(days=n), Decimal(per_day * n + 1))
        for n in range(first, days + 1)
    ]
    with time_machine.travel(START + timedelta(days=days, hours=1), tick=False):
        readings.take(organisation=farm.organisation, rows=rows, source="page", sender="test")
    machine.refresh_from_db()


@pytest.fixture
def machine(in_farm):
    made = in_farm.machine()
    run(in_farm, made, days=60)
    return made


def test_an_open_hour_mark_is_kept_once_a_fortnight(in_farm, machine):
    DutyFactory(machine=machine, mark_hours=Decimal(300))
    DutyFactory(machine=machine, mark_hours=Decimal(300))  # another task at the same mark
    DutyFactory(machine=machine, mark_hours=None, mark_on=NOW.date() + timedelta(days=9))
    DutyFactory(machine=machine, mark_hours=Decimal(200))  # past already
    assert night(NOW) == 1
    fortnight = timedelta(days=14)
    assert night(NOW + fortnight - timedelta(seconds=1)) == 0
    assert night(NOW + fortnight) == 1
    kept = KeptProjection.objects.order_by("made_at")[0]
    assert kept.early <= kept.likely <= kept.late
    assert kept.early < 14.75 < kept.late  # 59 hours to go at four a day


def test_a_far_mark_is_not_kept(in_farm, machine):
    """Farther than half a year, at four hours a day."""
    DutyFactory(machine=machine, mark_hours=machine.hours + 4 * 187)
    assert night(NOW) == 0
    DutyFactory(machine=machine, mark_hours=machine.hours + 4 * 173)
    assert night(NOW) == 1


def test_a_kept_mark_is_settled_on_the_straight_line_between_readings(in_farm, machine):
    DutyFactory(machine=machine, mark_hours=Decimal(300))
    night(NOW)
    assert accuracy.note_reached_marks() == 0
    run(in_farm, machine, days=90, first=61)
    assert accuracy.note_reached_marks() == 1
    # 301 h were read on day 75 and 297 on day 74, so 300 was passed three quarters of a day after that
    assert KeptProjection.objects.get().reached_at == START + timedelta(days=74, hours=18)


def test_nothing_is_learned_from_nothing_and_little_from_little(in_farm, machine):
    assert accuracy.learn(organisation=in_farm.organisation, now=NOW) == calibration.NONE
    DutyFactory(machine=machine, mark_hours=Decimal(300))
    night(NOW)
    run(in_farm, machine, days=200, first=61)
    accuracy.note_reached_marks()
    learned = accuracy.learn(organisation=in_farm.organisation, now=NOW + timedelta(days=140))
    assert accuracy.correction() == pytest.approx(learned)
    assert learned == pytest.approx(calibration.NONE, abs=0.05)
    assert Calibration.objects.get().outcomes == 1


def test_much_experience_moves_the_days_shown(in_farm, machine):
    """A fleet that always runs slower than said: the correction makes the likely day later."""
    made = NOW - timedelta(days=400)
    KeptProjection.objects.bulk_create(
        KeptProjection(
            organisation=in_farm.organisation,
            machine=machine,
            mark_hours=Decimal(100 + n),
            hours_then=Decimal(1),
            made_at=made,
            early=8,
            likely=10,
            late=13,
            reached_at=made + timedelta(days=14 + n % 3),
        )
        for n in range(300)
    )
    learned = accuracy.learn(organisation=in_farm.organisation, now=NOW)
    assert learned.likely > calibration.NONE.likely + 0.5


def test_the_scorecard_sets_us_beside_the_rules_by_hand(in_farm, machine):
    assert scorecard(now=NOW) is None
    DutyFactory(machine=machine, mark_hours=Decimal(300))
    night(NOW)
    run(in_farm, machine, days=90, first=61)
    accuracy.note_reached_marks()
    card = scorecard(now=NOW + timedelta(days=31))
    assert [row.name for row in card.rules] == ["Hourmark", "lifetime rate", "last 30 days", "last 90 days"]
    assert card.rules[1].mae < 0.1  # four hours every day: by hand one can't miss
    assert [row.name for row in card.by_type] == [str(machine.type)]


def test_the_page_is_the_ledgers_and_costs_the_same_for_any_number(farm, stranger):
    browser = farm.client("owner")

    def cost(number):
        with farm.scope():
            for _ in range(number):
                made = farm.machine()
                run(farm, made, days=20)
                KeptProjection.objects.create(
                    organisation=farm.organisation,
                    machine=made,
                    mark_hours=60,
                    hours_then=41,
                    made_at=START + timedelta(days=10),
                    early=3,
                    likely=5,
                    late=8,
                    reached_at=START + timedelta(days=14),
                )
        with CaptureQueriesContext(connection) as queries:
            page = browser.get("/ledger/track/")
        assert "lifetime rate" in page.content.decode()
        return len(queries)

    assert cost(2) == cost(8)
    assert farm.client("technician").get("/ledger/track/").status_code == 403
    assert "No forecast has come due yet" in stranger.client("owner").get("/ledger/track/").content.decode()


def test_the_nightly_run_settles_learns_projects_and_keeps(in_farm, machine):
    program = ProgramFactory(organisation=in_farm.organisation, machine_type=machine.type)
    version = ProgramVersionFactory(program=program, made_at=START - timedelta(days=9))
    for _ in range(2):  # two tasks at one mark
        IntervalFactory(task=TaskFactory(version=version), every_hours=Decimal(300))
    with time_machine.travel(NOW, tick=False):
        assert project_organisation(organisation_id=in_farm.organisation.pk) == 2
    said = Machine.objects.get().kept_projections.get()
    assert (said.mark_hours, said.hours_then, said.made_at, said.reached_at) == (300, 241, NOW, None)
    assert Calibration.objects.count() == 1
    # what was kept is what is shown, but for the correction, of which there is none
    likely = (NOW + timedelta(days=said.likely)).astimezone(machine.zoneinfo).date()
    assert {duty.likely for duty in Duty.objects.all()} == {likely}
