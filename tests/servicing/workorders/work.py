"""Work on orders: started, entered, closed."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal as D

import pytest
from django.utils import timezone
from django_scopes import scopes_disabled

from servicing import workorders
from servicing.models import ProgramVersion, WorkOrder
from servicing.workorders import CheckEntry, Entries, LineEntry, NotReady
from tests.factories import DutyFactory, IntervalFactory, ProgramVersionFactory, TaskFactory

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
LATER = date(2026, 5, 20)


def duty_at_1000(machine, title):
    """A duty at 1000 h, then every 100, by the program of the machine's type."""
    with scopes_disabled():
        version = ProgramVersion.objects.filter(program__machine_type=machine.type).first()
    version = version or ProgramVersionFactory(
        program__organisation=machine.organisation, program__machine_type=machine.type
    )
    task = TaskFactory(version=version, title=title)
    IntervalFactory(task=task, every_hours=D(100))
    return DutyFactory(machine=machine, task=task, mark_hours=D(1000))


def started(farm, machine, *duties, **kwargs):
    """An order planned and started two hours ago."""
    order = workorders.plan(member=farm.manager, machine=machine, duties=duties, **kwargs)
    began = timezone.now() - timedelta(hours=2)
    return workorders.start(order=order, member=farm.technician, revision=1, now=began)


def check(line, found="", found_unit="", left="", left_unit=""):
    """An entry for the one check of a line."""
    return CheckEntry(line.task.checks.get().pk, found, found_unit, left, left_unit)


def entries(order, *values, outcome="done", hours="1004", found="", **more):
    """The same outcome for every line; `values` for the check of each, or `found` for every check."""
    facts = {name: more.pop(name) for name in ("reason", "deferred_until", "note") if name in more}
    lines = list(order.lines.all())
    if found:
        values = [(found,) if line.task else () for line in lines]
    lines = [
        LineEntry(line.pk, outcome, checks=[check(line, *value)] if value else [], **facts)
        for line, value in zip(lines, values or [()] * len(lines), strict=True)
    ]
    return Entries(lines=lines, hours=D(hours) if hours else None, **more)


def close(farm, order, entered):
    """Close an order as the technician."""
    return workorders.close(order=order, member=farm.technician, revision=order.revision, entries=entered)


def problems(farm, order, entered):
    """What a refused closing names, by field."""
    with pytest.raises(NotReady) as refused:
        close(farm, order, entered)
    assert WorkOrder.objects.get(pk=order.pk).state == "started"
    return {"-".join(str(step) for step in each.path): each.sentence for each in refused.value.problems}
