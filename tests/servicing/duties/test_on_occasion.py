"""Tasks that no hours and no months call for: kept, shown, and never scheduled."""

from decimal import Decimal

import pytest
from django.db import connection
from django.urls import reverse

from servicing.duties.applicability import daily_round, on_occasion
from servicing.models import Duty
from servicing.programs.file_format import ProgramFaults, parse, read
from tests.earlier_tables import empty_and_newest, migrated, row, to_newest
from tests.factories import FitmentFactory, TaskFactory
from tests.servicing.duties.program_machines import NOW, add_machine, add_task, refresh
from tests.servicing.programs.test_load import WRITTEN

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_a_task_on_an_occasion_makes_no_duty_and_is_listed(in_farm, version):
    cab = FitmentFactory(organisation=in_farm.organisation)
    tank = TaskFactory(version=version, code="tank", title="Drain the tank", occasion="before storage")
    filters = TaskFactory(version=version, code="cab", title="Cab filter", occasion="as required")
    filters.needs.add(cab)
    grease = add_task(version, "grease", every_hours=Decimal(50))
    grease.occasion = "and as required"
    grease.save()
    plain, closed = add_machine(in_farm, version), add_machine(in_farm, version)
    closed.fitments.add(cab)
    refresh(plain, closed)
    assert set(Duty.objects.values_list("task__code", flat=True)) == {"grease"}
    assert on_occasion(plain) == [tank]
    assert on_occasion(closed) == [tank, filters]
    assert daily_round(plain) == []


def test_the_page_of_a_machine_says_that_it_is_not_scheduled(farm, version):
    with farm.scope():
        TaskFactory(version=version, code="tank", title="Drain the tank", occasion="before storage")
        machine = add_machine(farm, version)
    page = farm.client("technician").get(reverse("machine", args=[machine.pk])).content.decode()
    assert "Without hours or a date: 1 task" in page
    assert "Drain the tank: before storage" in page
    assert "We can't tell when these are due" in page.replace("&#x27;", "'")


def test_a_program_file_may_say_an_occasion_instead_of_intervals():
    document = parse(WRITTEN)
    task = document["tasks"][0]
    del task["intervals"]
    task["occasion"] = "before storage"
    row = read(document).tasks[0]
    assert (row["intervals"], row["occasion"]) == ([], "before storage")
    task["occasion"] = ""
    with pytest.raises(ProgramFaults, match="intervals need one for the condition normal"):
        read(document)


def test_tasks_of_before_have_no_occasion_after_0014(transactional_db):
    try:
        models = migrated([(app, "0013_names_in_the_administration") for app in ("servicing", "fleet")])
        owner = row(models, "Organisation", name="Farm", slug="farm")
        own = {"organisation": owner, "app": "servicing"}
        kind = row(models, "MachineType", organisation=owner, maker="Haldane", model="HX", category="tractor")
        program = row(models, "ServiceProgram", machine_type=kind, code="hx", title="HX", **own)
        version = row(models, "ProgramVersion", program=program, number=1, **own)
        row(models, "Task", version=version, code="oil", title="Oil", note="Warm", **own)
        to_newest()
        with connection.cursor() as cursor:
            cursor.execute("SELECT title, note, occasion FROM servicing_task")
            assert cursor.fetchall() == [("Oil", "Warm", "")]
    finally:
        empty_and_newest()
