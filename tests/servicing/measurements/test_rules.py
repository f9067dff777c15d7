"""The table of rules as the house judges; tests/browser/test_rules.py runs it through the phone's."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
import time_machine

from servicing import workorders
from servicing.measurements import limits
from servicing.workorders import CheckEntry, Entries, LineEntry, judging
from tests.factories import CheckFactory, DutyFactory, FitmentFactory, IntervalFactory
from tests.servicing.measurements.vectors import TABLE, TODAY, check_of, fields

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)


@pytest.mark.parametrize("row", TABLE["values"], ids=lambda row: f"{row['typed']} {row['unit']}")
def test_values(row):
    rule = limits.Rule.of(check_of(row["check"]))
    if "wrong" in row:
        with pytest.raises(limits.FleetError) as refused:
            rule.read(row["typed"], row["unit"])
        assert refused.value.sentence == row["wrong"]
    else:
        assert rule.read(row["typed"], row["unit"]).passes is row["passes"]


@pytest.mark.parametrize("row", TABLE["minutes"], ids=lambda row: row["typed"])
def test_minutes(row):
    if "wrong" in row:
        with pytest.raises(limits.NotANumber) as refused:
            limits.minutes(row["typed"])
        assert refused.value.sentence == row["wrong"]
    else:
        assert limits.minutes(row["typed"]) == row["minutes"]


@pytest.mark.parametrize("row", TABLE["lines"], ids=lambda row: row["says"])
def test_lines(in_farm, row):
    with time_machine.travel(NOW, tick=False):
        machine = in_farm.machine(hours=Decimal(1000))
        duty = DutyFactory(
            machine=machine, mark_hours=Decimal(1000), task__outside=row.get("outside", "adjust")
        )
        IntervalFactory(task=duty.task)
        for name in row.get("needs", []):
            duty.task.needs.add(FitmentFactory(organisation=in_farm.organisation, name=name))
        ids = [CheckFactory(task=duty.task, **fields(check)).pk for check in row["checks"]]
        order = workorders.plan(member=in_farm.manager, machine=machine, duties=[duty])
        line = order.lines.get()
        typed = row["entry"]
        until = typed.get("deferred_until")
        entry = LineEntry(
            line.pk,
            typed["outcome"],
            typed.get("reason", ""),
            date.fromisoformat(until) if until else None,
            checks=[CheckEntry(pk, **each) for pk, each in zip(ids, typed["checks"], strict=True)],
        )
        judged = judging.judge(
            order=order,
            entries=Entries(lines=[entry], hours=Decimal(1000)),
            today=date.fromisoformat(TODAY),
            finished=row["finished"],
        )
    places = {pk: str(number) for number, pk in enumerate(ids)}
    found = [
        ["-".join(places.get(step, str(step)) for step in each.path[2:]), each.sentence]
        for each in judged.problems
    ]
    assert found == row["problems"]
