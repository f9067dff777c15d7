"""Rows as columns of numbers, on whichever database the tests run."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from django.db import connection, transaction

from fleet.core import column_arrays
from fleet.models import Machine, Reading
from tests.factories import ReadingFactory

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def test_numbers_moments_days_and_nothing(in_farm):
    machine = in_farm.machine(in_service_on=date(2026, 3, 29))
    moments = [
        datetime(2026, 3, 29, 0, 30, tzinfo=UTC),
        datetime(2026, 10, 25, 23, 59, 59, 500000, tzinfo=UTC),
    ]
    for shows, moment in zip(("1204.55", "0.10"), moments, strict=True):
        ReadingFactory(machine=machine, taken_at=moment, shows=shows)
    rows = column_arrays.read(
        Reading.objects.order_by("taken_at"),
        machine="machine_id",
        day=column_arrays.Days("taken_at"),
        hours="hours",
        since=column_arrays.Days("machine__in_service_on"),
        retired=column_arrays.Days("machine__retired_on"),
    )
    assert rows["machine"].tolist() == [machine.pk] * 2
    assert rows["hours"].tolist() == [1204.55, 0.1]  # the very doubles that the decimals are written as
    exact = [(moment - EPOCH) / timedelta(days=1) for moment in moments]
    assert rows["day"] == pytest.approx(exact, abs=1e-8, rel=0)  # a millisecond
    assert rows["since"].tolist() == [(date(2026, 3, 29) - EPOCH.date()).days] * 2
    assert np.isnan(rows["retired"]).all()


def test_no_rows_are_empty_columns(in_farm):
    assert column_arrays.read(Machine.objects.all(), id="pk", hours="hours")["hours"].shape == (0,)


@pytest.mark.skipif(connection.vendor != "postgresql", reason="only PostgreSQL takes rows so")
def test_what_is_staged_is_read_back(db):
    values = {"one": np.array([1.0, np.nan, 2.0**53]), "other": np.array([0.1, -1e300, np.inf])}
    with transaction.atomic(), connection.cursor() as cursor:
        column_arrays.stage("kept_here", values, using="default")
        cursor.execute("SELECT NULLIF(one, 'NaN'), other FROM kept_here ORDER BY other")
        assert cursor.fetchall() == [(None, -1e300), (1.0, 0.1), (2.0**53, np.inf)]
