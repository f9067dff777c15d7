"""Columns of a query as arrays: every kind of value, nulls, and queries that can match nothing."""

from datetime import UTC, datetime
from decimal import Decimal

import numpy as np
import pytest

from fleet.columns import Days, read
from fleet.models import Machine
from tests.factories import MachineFactory

AT = datetime(2026, 5, 4, 18, 30, tzinfo=UTC)
DAYS = 20577 + 18.5 / 24  # 4 May 2026 is day 20577 since 1970 (date -u -d 2026-05-04 +%s / 86400)


@pytest.fixture
def machines(in_farm):
    first = MachineFactory(organisation=in_farm.organisation, tag="A", hours=Decimal("12.25"), hours_at=AT)
    return [first, MachineFactory(organisation=in_farm.organisation, tag="B", hours_at=None)]


def test_numbers_days_and_nulls_in_the_order_of_the_query(machines):
    found = read(Machine.objects.order_by("tag"), pk="pk", hours="hours", at=Days("hours_at"))
    assert found["pk"].tolist() == [machine.pk for machine in machines]
    assert found["hours"].tolist() == [12.25, 0]
    assert found["at"][0] == pytest.approx(DAYS, abs=1e-6)
    assert np.isnan(found["at"][1])


@pytest.mark.parametrize("wanted", [{"tag": "C"}, {"pk__in": []}], ids=["none matches", "none can match"])
def test_of_nothing_there_are_empty_columns(machines, wanted):
    found = read(Machine.objects.filter(**wanted), pk="pk", hours="hours")
    assert {name: values.shape for name, values in found.items()} == {"pk": (0,), "hours": (0,)}
