"""Many rows at once come out as single ones would: by COPY where DATABASE_URL names a PostgreSQL."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from fleet.core import bulk_insert
from fleet.models import Machine, Reading
from tests.factories.fleet import running_segment

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
AWKWARD = "tab\t, back\\slash, \\N, line\nbreak, quote ' \" and Ångström"


COLUMNS = (
    *("organisation_id", "machine_id", "segment_id", "taken_at", "shows", "hours", "state", "code"),
    *("source", "sender", "client_id", "taken_by_id", "received_at", "note", "decision", "reason"),
)


def rows_of(machine, numbers, **values):
    same = {
        "organisation_id": machine.organisation_id,
        "machine_id": machine.pk,
        "segment_id": running_segment(machine).pk,
        "state": "counted",
        "code": "ok",
        "source": "api",
        "sender": "box",
        "received_at": NOON,
        "note": AWKWARD,
        "decision": "",
        "reason": "",
        "taken_by_id": None,
    } | values
    for number in numbers:
        figure = Decimal(number) / 4
        own = {"taken_at": NOON + timedelta(minutes=number), "shows": figure, "hours": figure}
        row = same | own | {"client_id": str(number)}
        yield [row[name] for name in COLUMNS]


@pytest.mark.parametrize("number", [0, 1, bulk_insert.FEW, bulk_insert.FEW + 1, 300])
def test_what_was_written_is_what_is_read(in_farm, number):
    machine = in_farm.machine()
    rows = list(rows_of(machine, range(number), taken_by_id=in_farm.technician.pk))
    ids = bulk_insert.insert(Reading, COLUMNS, rows)
    assert len(set(ids)) == number
    kept = Reading.objects.in_bulk(ids)
    for pk, row in zip(ids, rows, strict=True):
        assert [getattr(kept[pk], name) for name in COLUMNS] == row
        assert kept[pk].corrects_id is kept[pk].suggestion is None


def test_a_row_that_breaks_a_rule_stops_all_of_them(in_farm):
    machine = in_farm.machine()
    with pytest.raises(IntegrityError), transaction.atomic():
        bulk_insert.insert(Reading, COLUMNS, list(rows_of(machine, [n % 20 for n in range(21)])))
    assert not Reading.objects.exists()


def test_among_finds_what_in_finds(in_farm):
    machines = [in_farm.machine(serial=f"s{n}'") for n in range(3)]
    for values in ([], [machines[0].pk], [machines[0].pk, machines[2].pk, 10**12]):
        found = Machine.objects.filter(pk__among=values)
        assert set(found) == set(Machine.objects.filter(pk__in=values))
        assert Machine.objects.exclude(pk__among=values).count() == 3 - len(found)
    assert Machine.objects.filter(serial__among=["s1'", "s9"]).get() == machines[1]
    assert Machine.objects.filter(yard__among=[in_farm.yard.pk]).count() == 3
