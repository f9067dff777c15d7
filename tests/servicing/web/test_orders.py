"""The list of orders, an order's page, making one, moving it on: as a browser without JavaScript sees it."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.models import Hire
from servicing import workorders
from servicing.models import WorkOrder
from tests.factories import (
    CheckFactory,
    DutyFactory,
    FaultFactory,
    MachineFactory,
    MemberFactory,
    TaskFactory,
    TechnicianFactory,
    WorkOrderFactory,
)
from tests.servicing.web.order_pages import NOW, TODAY, due, now

pytestmark = pytest.mark.time_machine(NOW, tick=False)
PLANNERS, WORKERS = {"owner", "manager"}, {"owner", "manager", "technician"}
EVERYBODY = WORKERS | {"counter"}
PAGES = [
    ("bench", False, WORKERS),
    ("orders", False, EVERYBODY),
    ("order-new", False, PLANNERS),
    ("order", True, EVERYBODY),
    ("order-sheet", True, EVERYBODY),
    ("order-close", True, WORKERS),
]


# ------------------------------------------------------------------ who sees what


@pytest.mark.parametrize("role", ["owner", "manager", "technician", "counter"])
@pytest.mark.parametrize(("name", "of_one", "allowed"), PAGES)
def test_who_may_open_a_page(farm, started, role, name, of_one, allowed):
    answer = farm.client(role).get(reverse(name, args=[started.pk] if of_one else []))
    assert answer.status_code == (200 if role in allowed else 403)


ACTS = [
    ("order-start", WORKERS, {}),
    ("order-hold", WORKERS, {"reason": "belt ordered"}),
    ("order-cancel", PLANNERS, {"reason": "sold"}),
    ("order-assign", PLANNERS, {"planned_for": "2026-05-09"}),
]


@pytest.mark.parametrize("role", ["owner", "manager", "technician", "counter"])
@pytest.mark.parametrize(("name", "allowed", "more"), ACTS)
def test_who_may_move_an_order(farm, order, role, name, allowed, more):
    answer = farm.client(role).post(reverse(name, args=[order.pk]), {"revision": 1, **more})
    assert answer.status_code == (302 if role in allowed else 403)
    assert now(farm, order).revision == (2 if role in allowed else 1)


@pytest.mark.parametrize(
    "name",
    ["order", "order-sheet", "order-close", "order-start", "order-hold", "order-cancel", "order-assign"],
)
def test_a_stranger_finds_nothing(farm, stranger, order, name):
    client, url = stranger.client("owner"), reverse(name, args=[order.pk])
    sent = {"revision": 1, "reason": "x"}
    is_page = name in ("order", "order-sheet", "order-close")
    answer = client.get(url) if is_page else client.post(url, sent)
    assert answer.status_code == 404
    assert now(farm, order).revision == 1


def test_a_strangers_machine_is_not_found(farm, stranger, machine):
    url = f"{reverse('order-new')}?machine="
    assert stranger.client("owner").get(f"{url}{machine.pk}").status_code == 404
    assert farm.client("owner").get(f"{url}²").status_code == 404


@pytest.mark.parametrize(
    "name", ["order-start", "order-hold", "order-cancel", "order-assign", "order-resume"]
)
def test_moving_on_is_never_a_link(farm, order, name):
    assert farm.client("owner").get(reverse(name, args=[order.pk])).status_code == 405


# ------------------------------------------------------------------ making an order


def test_what_is_due_is_ticked_and_what_is_near_is_suggested(farm, machine, duty, technician):
    due(machine, "Grease", TODAY + timedelta(days=14))
    due(machine, "Coolant", TODAY + timedelta(days=15))
    due(machine, "Valves", TODAY + timedelta(days=90))
    left = due(machine, "Wipers", TODAY, mark_hours=Decimal(900), deferred_until=date(2026, 6, 1))
    on_order = due(machine, "Filters", TODAY)
    with farm.scope():
        workorders.plan(member=farm.manager, machine=machine, duties=[on_order])
    answer = farm.client("manager").get(f"{reverse('order-new')}?machine={machine.pk}")

    def shown(name):
        return [(row.task.title, row.ticked, row.reason) for row in answer.context[name]]

    assert shown("due_now") == [
        ("Fan belt", True, "overdue"),
        ("Grease", True, "likely due in 14 days"),
    ]
    assert shown("near") == [("Coolant", False, "due 15 days later: same visit, same down time")]
    assert shown("later") == [
        ("Wipers", False, "deferred until later"),
        ("Valves", False, "likely due 90 days after this visit"),
    ]
    assert [row.task.title for row in answer.context["on_orders"]] == ["Filters"]
    page = answer.content.decode()
    assert "due 15 days later: same visit, same down time" in page
    assert f'value="{left.pk}">' in page


def test_an_order_is_made(farm, machine, duty, technician):
    fault = FaultFactory(machine=machine)
    url = f"{reverse('order-new')}?machine={machine.pk}"
    sent = {
        "duties": [duty.pk],
        "faults": [fault.pk],
        "technician": technician.pk,
        "planned_for": "2026-05-06",
        "note": "trailer",
    }
    answer = farm.client("manager").post(url, sent)
    with farm.scope():
        made = WorkOrder.objects.get()
        assert [line.title for line in made.lines.all()] == ["Fan belt", f"Put right: {fault.text}"]
    assert answer.url == reverse("order", args=[made.pk])
    assert (made.technician_id, made.planned_for, made.note) == (technician.pk, date(2026, 5, 6), "trailer")


def test_without_a_machine_one_is_led_to_add_one_first(farm):
    for name in ("order-new", "reading-new"):
        page = farm.client("manager").get(reverse(name)).content.decode()
        assert "No machine in service." in page, name
        assert f'href="{reverse("machine-new")}"' in page, name
        assert "<select" not in page, name
    asked = farm.client("technician").get(reverse("reading-new")).content.decode()
    assert reverse("machine-new") not in asked, "a technician adds no machines"
    assert "An owner or a manager adds machines." in asked


def test_with_a_retired_machine_alone_too_and_with_one_in_service_it_is_offered(farm, machine):
    client = farm.client("manager")
    assert "T-07" in client.get(reverse("order-new")).content.decode()
    with farm.scope():
        type(machine).objects.update(retired_on=TODAY)
    assert "No machine in service." in client.get(reverse("order-new")).content.decode()


def test_a_refused_order_keeps_what_was_ticked_and_typed(farm, machine, duty, technician):
    duty.task.skill = "licensed"
    duty.task.save()
    other = due(machine, "Grease", TODAY)
    url = f"{reverse('order-new')}?machine={machine.pk}"
    sent = {"duties": [duty.pk], "technician": technician.pk, "note": "bring the trailer"}
    answer = farm.client("manager").post(url, sent)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "is licensed work" in answer.context["form"].errors["technician"][0]
    assert f'value="{duty.pk}" checked' in page
    assert f'value="{other.pk}" checked' not in page
    assert "bring the trailer" in page


def test_another_machines_duty_is_refused(farm, stranger, machine, duty):
    theirs = DutyFactory(machine__organisation=stranger.organisation)
    url = f"{reverse('order-new')}?machine={machine.pk}"
    answer = farm.client("manager").post(url, {"duties": [theirs.pk]})
    assert answer.status_code == 422
    assert "duties" in answer.context["form"].errors
    with farm.scope():
        assert not WorkOrder.objects.exists()


# ------------------------------------------------------------------ moving on


def test_a_stale_page_says_so_and_keeps_the_typed_reason(farm, order):
    with farm.scope():
        workorders.start(order=order, member=farm.technician, revision=1)
    answer = farm.client("manager").post(
        reverse("order-hold", args=[order.pk]), {"revision": 1, "reason": "belt from Vic"}
    )
    assert answer.status_code == 409
    page = answer.content.decode()
    assert "Order 1 has changed since you opened it: it is started" in page
    assert "belt from Vic" in page
    assert answer.context["hold_form"]["revision"].value() == 2


def test_a_reason_typed_too_late_is_still_shown(farm, order):
    with farm.scope():
        workorders.cancel(order=order, member=farm.manager, revision=1, reason="sold")
    answer = farm.client("technician").post(
        reverse("order-hold", args=[order.pk]), {"revision": 1, "reason": "belt from Vic"}
    )
    assert answer.status_code == 409
    assert "belt from Vic" in answer.content.decode()


def test_a_machine_on_hire_is_not_started(farm, machine, order):
    with farm.scope():
        Hire.objects.create(
            organisation=farm.organisation, machine=machine, hirer="Vic", out_at=NOW, hours_out=1000
        )
    answer = farm.client("technician").post(reverse("order-start", args=[order.pk]), {"revision": 1})
    assert answer.status_code == 409
    assert "T-07 is out on hire with Vic" in answer.content.decode()


def test_assigning(farm, order):
    answer = farm.client("manager").post(
        reverse("order-assign", args=[order.pk]),
        {"revision": 1, "technician": "", "planned_for": "2026-05-09"},
    )
    assert answer.status_code == 302
    assert (now(farm, order).technician_id, now(farm, order).planned_for) == (None, date(2026, 5, 9))


# ------------------------------------------------------------------ bench, list, sheet


def test_orders_are_the_open_ones_until_asked_otherwise(farm, machine, order):
    with farm.scope():
        other = DutyFactory(machine=MachineFactory(organisation=farm.organisation, tag="S-01"))
        second = workorders.plan(member=farm.manager, machine=other.machine, duties=[other])
        workorders.cancel(order=second, member=farm.manager, revision=1, reason="sold")
    client = farm.client("counter")

    def found(**asked):
        return [row.number for row in client.get(reverse("orders"), asked).context["page"]]

    assert found() == [1]
    assert found(state="every") == [1, 2]
    assert found(state="cancelled") == found(state="withdrawn") == [2]
    assert found(state="every", machine="s-0") == [2]
    assert found(technician=order.technician_id) == [1]
    shown = client.get(reverse("orders"), {"state": "lost"})
    assert [row.number for row in shown.context["page"]] == [1]
    assert "There is no such state: these are the open orders." in shown.content.decode()
    assert "Select a valid choice" not in shown.content.decode()


def test_open_orders_come_by_their_day_and_ended_ones_with_the_latest_first(farm, machine):
    def order(number, **facts):
        return WorkOrderFactory(machine=machine, number=number, made_by=farm.manager, **facts)

    def closed(day):
        at = datetime(2026, 5, day, 9, tzinfo=UTC)
        return {"state": "closed", "closed_at": at, "closed_by": farm.manager, "hours_at_close": 900}

    order(1, **closed(2))
    order(2, **closed(4))
    order(3, state="cancelled", cancelled_at=datetime(2026, 5, 3, 9, tzinfo=UTC))
    order(4)
    order(5, planned_for=date(2026, 5, 9))
    order(6, planned_for=date(2026, 5, 7))
    page = farm.client("owner").get(reverse("orders"), {"state": "every"}).context["page"]
    assert [row.number for row in page] == [6, 5, 4, 2, 3, 1]


@pytest.mark.parametrize("name", ["bench", "orders"])
def test_lists_ask_the_same_number_of_queries_however_long_they_are(farm, machine, name):
    def add(number):
        with farm.scope():
            for _ in range(number):
                work = DutyFactory(machine__organisation=farm.organisation)
                technician = TechnicianFactory(member=MemberFactory(organisation=farm.organisation))
                workorders.plan(
                    member=farm.manager, machine=work.machine, duties=[work], technician=technician
                )

    client, counts = farm.client("manager"), []
    for number in (1, 9):
        add(number)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(reverse(name)).status_code == 200
        counts.append(len(queries))
    # the filter's list of technicians is one query however many there are
    assert counts[0] == counts[1]


@pytest.mark.parametrize("name", ["order", "order-sheet", "order-close", "order-new"])
def test_pages_of_an_order_ask_the_same_number_of_queries_however_many_lines(farm, machine, name):
    client, counts = farm.client("manager"), []
    for number in (1, 6):
        host = MachineFactory(organisation=farm.organisation)
        version = DutyFactory(machine=host, active=False).task.version
        with farm.scope():
            duties = [DutyFactory(machine=host, task=TaskFactory(version=version)) for _ in range(number)]
            for work in duties:
                CheckFactory(task=work.task)
            if name == "order-new":
                url = f"{reverse(name)}?machine={host.pk}"
            else:
                made = workorders.plan(member=farm.manager, machine=host, duties=duties)
                workorders.start(order=made, member=farm.manager, revision=1)
                url = reverse(name, args=[made.pk])
        with CaptureQueriesContext(connection) as queries:
            assert client.get(url).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]
