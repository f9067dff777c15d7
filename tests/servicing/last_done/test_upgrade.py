"""0015: what was known of the last work stays known; nothing is said to be unknown."""

from datetime import date
from decimal import Decimal

from django.db import connection

from tests.earlier_tables import empty_and_newest, migrated, row, to_newest


def test_recorded_work_stays_recorded(transactional_db):
    try:
        before = [("servicing", "0014_tasks_done_on_an_occasion"), ("fleet", "0015_readings_asked_about")]
        models = migrated(before)
        owner = row(models, "Organisation", name="Farm", slug="farm")
        own = {"organisation": owner}
        kind = row(models, "MachineType", maker="Haldane", model="HX", category="tractor", **own)
        yard = row(models, "Yard", name="Home", **own)
        machine = row(
            models, "Machine", tag="T-01", type=kind, yard=yard, in_service_on=date(2026, 1, 1), **own
        )
        own["app"] = "servicing"
        program = row(models, "ServiceProgram", machine_type=kind, code="hx", title="HX", **own)
        version = row(models, "ProgramVersion", program=program, number=1, **own)
        task = row(models, "Task", version=version, code="oil", title="Oil", **own)
        done = {"last_hours": Decimal(190), "last_on": date(2026, 5, 4), "mark_hours": Decimal(290)}
        row(models, "Duty", machine=machine, task=task, **done, **own)
        to_newest()
        with connection.cursor() as cursor:
            cursor.execute("SELECT last_hours, last_on, unknown_on FROM servicing_duty")
            ((hours, on, unknown_on),) = cursor.fetchall()
            cursor.execute("SELECT count(*) FROM servicing_lastdone")
            assert cursor.fetchone() == (0,)
        assert (Decimal(str(hours)), str(on), unknown_on) == (190, "2026-05-04", None)
    finally:
        empty_and_newest()
