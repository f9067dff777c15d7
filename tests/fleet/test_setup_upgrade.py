"""0016: whoever has a machine, retired or not, is past the first steps; whoever has none is led."""

from datetime import UTC, date, datetime

import pytest

from tests.earlier_tables import empty_and_newest, migrated, row

BEFORE = [("fleet", "0015_readings_asked_about")]
AFTER = [("fleet", "0016_setup_steps")]


@pytest.fixture
def before(transactional_db):
    """The models as they were, on tables as they were; afterwards everything is as it is now again."""
    yield migrated(BEFORE)
    empty_and_newest()


def organisation(models, slug, machines=0, **facts):
    ours = {"organisation": row(models, "Organisation", name=slug, slug=slug, zone="UTC")}
    yard = row(models, "Yard", name="Yard", **ours)
    kind = row(models, "MachineType", maker="Haldane", model="HX 25", category="tractor", **ours)
    for number in range(machines):
        place = {"type": kind, "yard": yard, "code": f"{slug[:4]}{number:04}"}
        row(models, "Machine", tag=f"T-{number}", in_service_on=date(2026, 5, 4), **place, **ours, **facts)


def led(models):
    every = models.get_model("fleet", "Organisation")._base_manager
    return {slug for slug, set_up_at in every.values_list("slug", "set_up_at") if set_up_at is None}


def test_existing_houses_are_not_led(before):
    organisation(before, "none-yet")
    organisation(before, "many", machines=3)
    organisation(before, "sold", machines=1, retired_on=date(2026, 6, 1))
    began = datetime.now(UTC)
    after = migrated(AFTER)
    assert led(after) == {"none-yet"}
    at = after.get_model("fleet", "Organisation")._base_manager.get(slug="many").set_up_at
    assert began <= at <= datetime.now(UTC)
    again = migrated(BEFORE)
    assert again.get_model("fleet", "Organisation")._base_manager.count() == 3
