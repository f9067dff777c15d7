"""Work done moves a duty; deferred work waits with a reason."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from fleet.core.errors import FleetError
from fleet.models import Machine
from servicing.duties.completion import complete_duty, defer_duty
from servicing.models import Duty
from tests.servicing.duties.program_machines import NOW, TODAY, add_machine, add_task, refresh

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_once_only_work_is_finished_when_done(in_farm, version):
    add_task(version, every_hours=None, first_hours=Decimal(50), once=True)
    machine = add_machine(in_farm, version)
    refresh(machine)
    complete_duty(duty=Duty.objects.get(), hours=Decimal(52), on=TODAY)
    refresh(machine)
    duty = Duty.objects.get()
    assert (duty.active, duty.mark_hours, duty.met_hours, duty.last_hours) == (False, None, 50, 52)


def test_work_moves_the_mark_and_asks_for_a_projection(in_farm, version, django_capture_on_commit_callbacks):
    add_task(version, every_months=12)
    machine = add_machine(in_farm, version, hours_a_day=2)
    refresh(machine)
    duty = Duty.objects.get()
    defer_duty(duty=duty, until=TODAY + timedelta(days=3), reason="No filter in stock.")

    met = complete_duty(duty=duty, hours=Decimal(240), on=TODAY)

    assert (met.mark_hours, met.mark_on) == (300, date(2027, 6, 1))
    assert (met.met_hours, met.met_on) == (100, date(2027, 1, 1))
    assert (met.last_hours, met.last_on, met.likely) == (240, TODAY, None)
    assert (met.deferred_until, met.deferred_reason) == (None, "")
    assert list(Machine.objects.awaiting_projection()) == [machine]
    refresh(machine)
    assert Duty.objects.get().likely > TODAY
    assert not Machine.objects.awaiting_projection()


def test_putting_off_needs_a_reason_and_a_later_day(in_farm, version):
    add_task(version)
    refresh(add_machine(in_farm, version))
    duty = Duty.objects.get()
    with pytest.raises(FleetError) as refused:
        defer_duty(duty=duty, until=TODAY + timedelta(days=1), reason="  ")
    assert refused.value.field == "reason"
    with pytest.raises(FleetError) as refused:
        defer_duty(duty=duty, until=TODAY, reason="No filter in stock.")
    assert refused.value.field == "deferred_until"
    defer_duty(duty=duty, until=TODAY + timedelta(days=1), reason="No filter in stock.")
    assert Duty.objects.get().deferred_reason == "No filter in stock."
