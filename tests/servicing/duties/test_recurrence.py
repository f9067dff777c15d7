"""Forecasts over a year list and count work each time it comes round. Own numbers, worked by hand."""

import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal as D
from itertools import pairwise

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from servicing.duties import expected_work, recurrence
from servicing.duties.refresh import refresh_all_duties
from servicing.models import Duty
from tests.factories import IntervalFactory, ProgramVersionFactory, ReadingFactory, TaskFactory

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
TODAY = date(2026, 5, 4)
pytestmark = pytest.mark.time_machine(NOW, tick=False)


def machine_of_800_hours_a_year(house, version, tag="T-07"):
    with house.scope():
        return _machine(house, version, tag)


def _machine(house, version, tag):
    """It ran 1,600 h in the last two years, read every tenth day, and stands at 1,600 h."""
    machine = house.machine(tag=tag, type=version.program.machine_type, in_service_on=date(2024, 5, 4))
    for days in range(730, -1, -10):
        at = NOW - timedelta(days=days)
        ReadingFactory(machine=machine, taken_at=at, shows=round(D(1600) * (730 - days) / 730, 2))
    type(machine).objects.filter(pk=machine.pk).update(hours=D(1600), hours_at=NOW)
    return machine


@pytest.fixture
def version(farm):
    version = ProgramVersionFactory(
        program__organisation=farm.organisation, program__machine_type__organisation=farm.organisation
    )
    for code, minutes, rule in (("grease", 30, {"every_hours": D(50)}), ("look", 10, {"every_months": 3})):
        task = TaskFactory(version=version, code=code, title=code, minutes=minutes)
        IntervalFactory(task=task, **({"every_hours": None} | rule))
    return version


@pytest.fixture
def machine(farm, version):
    made = machine_of_800_hours_a_year(farm, version)
    with farm.scope():
        refresh_all_duties()
    return made


def test_each_time_is_listed_with_its_own_mark_and_days(farm, machine):
    """1,650 h to 2,400 h is sixteen times; one more or less lies on the edge of the year."""
    with farm.scope():
        duties = list(Duty.objects.live().with_everything().prefetch_related("machine__overrides"))
        times = recurrence.each_time(duties, until=TODAY + timedelta(365), now=NOW)
    grease = [each for each in times if each.task.code == "grease"]
    assert [each.mark_hours for each in grease[:15]] == [D(1600) + 50 * n for n in range(1, 16)]
    assert 15 <= len(grease) <= 17
    assert all(a.likely < b.likely for a, b in pairwise(grease))
    gaps = [(b.likely - a.likely).days for a, b in pairwise(grease)]
    assert all(15 <= gap <= 31 for gap in gaps), "50 h at 800 h a year is 23 days"
    assert all(each.early <= each.likely <= each.late for each in grease)
    assert (grease[-1].late - grease[-1].early) > (grease[1].late - grease[1].early), "doubt grows"
    look = [each.mark_on for each in times if each.task.code == "look"]
    assert look == [date(2026, 8, 4), date(2026, 11, 4), date(2027, 2, 4), date(2027, 5, 4)]
    with farm.scope():
        assert Duty.objects.count() == 2, "nothing of it is saved"


def test_hours_of_work_count_each_time(farm, machine):
    """800 h are sixteen times, the last of them on the edge of the year, so half of it counts: 15.5 times 30
    minutes; and three times 10, the fourth on its edge too."""
    with farm.scope():
        (row,) = expected_work.expected(days=365)
    assert 18 <= row.coming.jobs <= 20
    assert 15 * 30 + 3 * 10 <= row.coming.minutes <= 16 * 30 + 4 * 10


def test_the_page_adds_up_each_time_and_lists_the_chosen_week(farm, machine):
    """Grease every 50 h of 800 a year, and a look each three months: by the rule, no more and no less."""

    def page(**asked):
        html = farm.client("manager").get("/ahead/", asked).content.decode()
        return re.sub(r"[\xa0\u202f]", " ", html)

    with farm.scope():
        duties = list(Duty.objects.live().with_everything().prefetch_related("machine__overrides"))
        times = recurrence.each_time(duties, until=TODAY + timedelta(365), now=NOW)
    listed = "".join(page(days="365", week=day) for day in re.findall(r"week=([\d-]+)", page(days="365")))
    for each in times:
        if each.task.code == "grease" and each.likely <= TODAY + timedelta(365):
            assert f"due at {each.mark_hours:,}".replace(",", " ")[:-1] in listed
    assert f"{len(times)} tasks by" in page(days="365")
    assert f"due at {1600 + 50 * 12:,}".replace(",", " ") not in page(days="30")


def test_the_page_asks_the_same_however_often_work_comes(farm, version):
    def cost(machines):
        for n in range(machines):
            machine_of_800_hours_a_year(farm, version, tag=f"T-{n}-{machines}")
        with farm.scope():
            refresh_all_duties()
        browser = farm.client("manager")
        counts = []
        for days in ("30", "365"):
            with CaptureQueriesContext(connection) as queries:
                assert browser.get("/ahead/", {"days": days}).status_code == 200
            counts.append(len(queries))
        return counts

    assert cost(2) == cost(5)
