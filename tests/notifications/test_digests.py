"""Who is told what, and each fact once until it changes."""

from datetime import UTC, date, datetime
from decimal import Decimal

from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models import Machine
from notifications.digests import write_digests
from notifications.models import Message
from tests.factories import DutyFactory, LineFactory, MachineFactory, TechnicianFactory, WorkOrderFactory

MORNING = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)  # eight in Madrid
TOMORROW = datetime(2026, 3, 3, 7, 0, tzinfo=UTC)


def likely_duty(farm, **kwargs):
    machine = kwargs.pop("machine", None) or MachineFactory(organisation=farm.organisation, tag="T-1")
    return DutyFactory(machine=machine, task__title="Engine oil", **kwargs)


def told(farm, now=MORNING):
    return {message.member: message for message in write_digests(organisation=farm.organisation, now=now)}


def test_manager_hears_of_likely_unassigned_duties(in_farm):
    likely_duty(in_farm)
    messages = told(in_farm)
    assert list(messages) == [in_farm.manager]
    assert messages[in_farm.manager].subject == "1 task likely due soon on 1 machine"
    assert (
        "0.0\u00a0h now): Engine oil, likely Tue 10 Mar, due at 100.0\u00a0h\n"
        in messages[in_farm.manager].body
    )


def test_a_mark_brought_forward_is_told_with_its_reason(in_farm):
    drifts = "Belt deflection nears its limit of 9 mm at about 100 h"
    likely_duty(in_farm, forward_hours=100, rule_hours=150, forward_reason=drifts)
    assert f"due at 100.0\u00a0h (earlier: {drifts})" in told(in_farm)[in_farm.manager].body


def test_a_long_list_is_cut_and_says_so(in_farm):
    for machine in MachineFactory.create_batch(43, organisation=in_farm.organisation):
        DutyFactory(machine=machine)
    body = told(in_farm)[in_farm.manager].body
    assert body.count("\n- ") == 40
    assert "and 3 more: " in body


def test_without_a_manager_the_owner_hears_of_them(in_farm):
    likely_duty(in_farm)
    in_farm.manager.active = False
    in_farm.manager.save()
    assert list(told(in_farm)) == [in_farm.owner]


def test_beyond_the_notice_nobody_is_told(in_farm):
    likely_duty(in_farm, likely=date(2026, 3, 17), late=date(2026, 4, 1))  # the notice is 14 days
    assert told(in_farm) == {}


def test_on_the_last_day_of_the_notice_they_are(in_farm):
    likely_duty(in_farm, likely=date(2026, 3, 16), late=date(2026, 4, 1))
    assert list(told(in_farm)) == [in_farm.manager]


def test_owner_hears_of_what_is_past(in_farm):
    duty = likely_duty(in_farm)
    Machine.objects.filter(pk=duty.machine_id).update(hours=Decimal("100.0"))
    messages = told(in_farm)
    assert list(messages) == [in_farm.owner]
    assert messages[in_farm.owner].subject == "1 task overdue on 1 machine"


def test_technician_hears_of_own_orders(in_farm):
    technician = TechnicianFactory(member=in_farm.technician)
    machine = MachineFactory(organisation=in_farm.organisation)
    order = WorkOrderFactory(machine=machine, technician=technician, planned_for=date(2026, 3, 4))
    LineFactory(order=order)
    messages = told(in_farm)
    assert list(messages) == [in_farm.technician]
    assert f"Order {order.number}" in messages[in_farm.technician].body
    assert messages[in_farm.technician].subject == "1 work order for you"


def test_the_subject_bends_to_the_number(in_farm):
    technician = TechnicianFactory(member=in_farm.technician)
    for machine in MachineFactory.create_batch(2, organisation=in_farm.organisation):
        LineFactory(order=WorkOrderFactory(machine=machine, technician=technician))
        duty = likely_duty(in_farm, machine=machine)
    Machine.objects.update(hours=duty.mark_hours)
    subjects = {member: message.subject for member, message in told(in_farm).items()}
    assert subjects == {
        in_farm.owner: "2 tasks overdue on 2 machines",
        in_farm.technician: "2 work orders for you",
    }


def test_a_fact_is_told_once_until_it_changes(in_farm):
    duty = likely_duty(in_farm)
    assert len(told(in_farm)) == 1
    assert told(in_farm) == {}  # the same day, again
    assert told(in_farm, TOMORROW) == {}  # nothing new
    duty.mark_hours = Decimal("90.0")
    duty.save()
    assert len(told(in_farm, datetime(2026, 3, 4, 7, 0, tzinfo=UTC))) == 1


def test_an_order_that_came_and_went_makes_the_duty_news_again(in_farm):
    duty = likely_duty(in_farm)
    assert len(told(in_farm)) == 1
    line = LineFactory(order=WorkOrderFactory(machine=duty.machine), duty=duty)
    assert told(in_farm, TOMORROW) == {}
    line.open = False
    line.save()
    assert len(told(in_farm, datetime(2026, 3, 4, 7, 0, tzinfo=UTC))) == 1


def test_not_before_the_organisations_hour(in_farm):
    likely_duty(in_farm)
    assert (
        told(in_farm, datetime(2026, 3, 2, 4, 59, tzinfo=UTC)) == {}
    )  # 05:59 in Madrid, the digest hour is 6
    assert len(told(in_farm, datetime(2026, 3, 2, 5, 0, tzinfo=UTC))) == 1


def test_who_wants_no_mail_gets_none(in_farm):
    likely_duty(in_farm)
    in_farm.manager.mail = False
    in_farm.manager.save()
    assert told(in_farm) == {}


def test_a_colleague_who_wants_mail_later_is_told_then(in_farm):
    likely_duty(in_farm)
    in_farm.manager.mail = False
    in_farm.manager.save()
    told(in_farm)
    in_farm.manager.mail = True
    in_farm.manager.save()
    assert list(told(in_farm, TOMORROW)) == [in_farm.manager]


def test_other_organisations_are_left_alone(in_farm, stranger):
    likely_duty(stranger)
    assert told(in_farm) == {}
    assert not Message.objects.exists()


def test_digest_costs_the_same_queries_for_any_number_of_duties(in_farm):

    def cost(duties, now):
        for _ in range(duties):
            DutyFactory(machine=MachineFactory(organisation=in_farm.organisation))
        with CaptureQueriesContext(connection) as queries:
            told(in_farm, now)
        return len(queries)

    assert cost(2, MORNING) == cost(20, TOMORROW)
