"""Many rows at once come out as single ones would: by COPY where DATABASE_URL names a PostgreSQL."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from fleet import bulk
from fleet.models import Machine, Reading
from tests.factories import MachineFactory
from tests.factories.fleet import running_segment

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
AWKWARD = "tab\t, back\\slash, \\N, line\nbreak, quote ' \" and Ångström"


def reading(machine, number, **values):
    return Reading(
        organisation_id=machine.organisation_id,
        machine=machine,
        segment=running_segment(machine),
        taken_at=NOON + timedelta(minutes=number),
        shows=Decimal(number) / 4,
        hours=Decimal(number) / 4,
        state="counted",
        code="ok",
        source="api",
        sender="box",
        **values,
    )


@pytest.mark.parametrize("number", [1, bulk.FEW, bulk.FEW + 1, 300])
def test_what_was_written_is_what_is_read(in_farm, number):
    machine = MachineFactory(organisation=in_farm.organisation, yard=in_farm.yard)
    rows = [
        reading(machine, n, note=AWKWARD, client_id=str(n), taken_by=in_farm.technician)
        for n in range(number)
    ]
    bulk.insert(rows)
    assert len({row.pk for row in rows}) == number
    for row, kept in zip(rows, Reading.objects.order_by("taken_at"), strict=True):
        for field in Reading._meta.concrete_fields:
            assert getattr(row, field.attname) == getattr(kept, field.attname), field
        assert not row._state.adding


def test_a_row_that_breaks_a_rule_stops_all_of_them(in_farm):
    machine = MachineFactory(organisation=in_farm.organisation, yard=in_farm.yard)
    with pytest.raises(IntegrityError), transaction.atomic():
        bulk.insert([reading(machine, n % 20) for n in range(21)])
    assert not Reading.objects.exists()


def test_among_finds_what_in_finds(in_farm):
    machines = [
        MachineFactory(organisation=in_farm.organisation, yard=in_farm.yard, serial=f"s{n}'")
        for n in range(3)
    ]
    for values in ([], [machines[0].pk], [machines[0].pk, machines[2].pk, 10**12]):
        found = Machine.objects.filter(pk__among=values)
        assert set(found) == set(Machine.objects.filter(pk__in=values))
        assert Machine.objects.exclude(pk__among=values).count() == 3 - len(found)
    assert Machine.objects.filter(serial__among=["s1'", "s9"]).get() == machines[1]
    assert Machine.objects.filter(yard__among=[in_farm.yard.pk]).count() == 3
