"""0014: units that were linked or ignored keep the numbers they had, so that other ones are noticed."""

from datetime import UTC, date, datetime

import pytest

from tests.earlier_tables import empty_and_newest, migrated, row

BEFORE = [("fleet", "0013_names_in_the_administration")]
AFTER = [("fleet", "0014_questions_of_telematics")]
THEN = datetime(2026, 5, 4, 10, tzinfo=UTC)


@pytest.fixture
def before(transactional_db):
    """The models as they were, on tables as they were; afterwards everything is as it is now again."""
    yield migrated(BEFORE)
    empty_and_newest()


def test_what_was_decided_keeps_its_numbers(before):
    farm = row(before, "Organisation", name="Alder Farm", slug="alder-farm", zone="UTC")
    ours = {"organisation": farm}
    yard = row(before, "Yard", name="Home", **ours)
    kind = row(before, "MachineType", maker="Haldane", model="HX 25", category="tractor", **ours)
    machine = row(before, "Machine", tag="T-01", in_service_on=date(2026, 1, 1), type=kind, yard=yard, **ours)
    source = row(before, "TelematicsSource", name="Feed", url="https://feed.example/", **ours)
    facts = {"source": source, "seen_at": THEN, "maker": "Haldane", "hours": "104.5", **ours}
    row(before, "TelematicsUnit", key="tied", serial="K-1", machine=machine, matched_by="serial", **facts)
    row(before, "TelematicsUnit", key="ignored", serial="K-2", ignored=True, **facts)
    row(before, "TelematicsUnit", key="waiting", serial="K-3", **facts)
    after = migrated(AFTER)
    units = {unit.key: unit for unit in after.get_model("fleet", "TelematicsUnit")._base_manager.all()}
    known = {key: (unit.known, unit.tied_at, unit.other_hours) for key, unit in units.items()}
    assert known == {
        "tied": ({"serial": "K-1", "maker": "Haldane"}, THEN, []),
        "ignored": ({"serial": "K-2", "maker": "Haldane"}, None, []),
        "waiting": ({}, None, []),
    }
    assert {unit.hours for unit in units.values()} == {"104.5"}
    assert units["tied"].machine_id == machine.pk
    assert after.get_model("fleet", "TelematicsSource")._base_manager.get().silent_days == 7
