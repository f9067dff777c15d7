"""Bench, Orders, an order's page, sheet and closing form, as a browser without JavaScript sees them."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.models import Hire, MeterSegment, Reading, TagOut
from servicing import workorders
from servicing.job_sheet.build import build_job_sheet
from servicing.models import CheckResult, Task, WorkOrder
from servicing.printing.job_sheet_pdf import words
from tests.factories import (
    CheckFactory,
    DefectFactory,
    DutyFactory,
    IntervalFactory,
    MachineFactory,
    MemberFactory,
    PartFactory,
    ReadingFactory,
    TaskFactory,
    TechnicianFactory,
)

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
TODAY = date(2026, 5, 4)


@pytest.fixture(autouse=True)
def frozen():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def machine(farm):
    machine = MachineFactory(
        organisation=farm.organisation, yard=farm.yard, tag="T-07", hours=Decimal(1000), hours_at=NOW
    )
    ReadingFactory(machine=machine, taken_at=NOW - timedelta(days=10), shows=Decimal(1000))
    return machine


@pytest.fixture
def technician(farm):
    return TechnicianFactory(member=farm.technician)


@pytest.fixture
def duty(machine):
    duty = DutyFactory(machine=machine, mark_hours=Decimal(1000), task__title="Fan belt")
    IntervalFactory(task=duty.task)
    CheckFactory(task=duty.task, label="Belt deflection", unit="mm", lower=Decimal(7), upper=Decimal("7.62"))
    return duty


@pytest.fixture
def order(farm, machine, duty, technician):
    with farm.scope():
        return workorders.plan(
            member=farm.manager, machine=machine, duties=[duty], technician=technician, planned_for=TODAY
        )


@pytest.fixture
def started(farm, order):
    with farm.scope():
        return workorders.start(order=order, member=farm.technician, revision=1)


def now(farm, order):
    with farm.scope():
        return WorkOrder.objects.get(pk=order.pk)


def names(farm, order):
    """The names of the closing form's fields for the order's one line and one check."""
    with farm.scope():
        line = order.lines.get()
        return f"lines-{line.pk}", f"lines-{line.pk}-checks-{line.task.checks.get().pk}"


def filled_in(farm, order, found="7.5", unit="mm", outcome="done", hours="1004.5", **more):
    line, check = names(farm, order)
    return {
        "revision": order.revision,
        f"{line}-outcome": outcome,
        f"{check}-found": found,
        f"{check}-found_unit": unit,
        f"{check}-left_unit": unit,
        "hours": hours,
        **more,
    }


# ------------------------------------------------------------------ who sees what

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


@pytest.mark.parametrize("role", ["owner", "manager", "technician", "counter"])
@pytest.mark.parametrize(("name", "of_one", "allowed"), PAGES)
def test_who_may_open_a_page(farm, started, role, name, of_one, allowed):
    answer = farm.client(role).get(reverse(name, args=[started.pk] if of_one else []))
    assert answer.status_code == (200 if role in allowed else 403)


ACTS = [
    ("order-start", WORKERS, {}),
    ("order-park", WORKERS, {"reason": "belt ordered"}),
    ("order-withdraw", PLANNERS, {"reason": "sold"}),
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
    ["order", "order-sheet", "order-close", "order-start", "order-park", "order-withdraw", "order-assign"],
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
    "name", ["order-start", "order-park", "order-withdraw", "order-assign", "order-resume"]
)
def test_moving_on_is_never_a_link(farm, order, name):
    assert farm.client("owner").get(reverse(name, args=[order.pk])).status_code == 405


# ------------------------------------------------------------------ making an order


def due(machine, title, likely, **kwargs):
    days = {"early": likely, "likely": likely, "late": likely, "mark_hours": Decimal(5000)}
    return DutyFactory(machine=machine, task__title=title, **(days | kwargs))


def test_what_is_due_is_ticked_and_what_is_near_is_suggested(farm, machine, duty, technician):
    due(machine, "Grease", TODAY + timedelta(days=14))
    due(machine, "Coolant", TODAY + timedelta(days=15))
    due(machine, "Valves", TODAY + timedelta(days=90))
    left = due(machine, "Wipers", TODAY, mark_hours=Decimal(900), put_off_until=date(2026, 6, 1))
    on_order = due(machine, "Filters", TODAY)
    with farm.scope():
        workorders.plan(member=farm.manager, machine=machine, duties=[on_order])
    answer = farm.client("manager").get(f"{reverse('order-new')}?machine={machine.pk}")

    def shown(name):
        return [(row.task.title, row.ticked, row.reason) for row in answer.context[name]]

    assert shown("due_now") == [
        ("Fan belt", True, "past its mark"),
        ("Grease", True, "likely due in 14 days"),
    ]
    assert shown("near") == [("Coolant", False, "due 15 days later, saves a stop")]
    assert shown("later") == [
        ("Wipers", False, "left until later"),
        ("Valves", False, "likely due 90 days after this stop"),
    ]
    assert [row.task.title for row in answer.context["on_orders"]] == ["Filters"]
    page = answer.content.decode()
    assert "due 15 days later, saves a stop" in page
    assert f'value="{left.pk}">' in page


def test_an_order_is_made(farm, machine, duty, technician):
    defect = DefectFactory(machine=machine)
    url = f"{reverse('order-new')}?machine={machine.pk}"
    sent = {
        "duties": [duty.pk],
        "defects": [defect.pk],
        "technician": technician.pk,
        "planned_for": "2026-05-06",
        "note": "trailer",
    }
    answer = farm.client("manager").post(url, sent)
    with farm.scope():
        made = WorkOrder.objects.get()
        assert [line.title for line in made.lines.all()] == ["Fan belt", f"Put right: {defect.text}"]
    assert answer.url == reverse("order", args=[made.pk])
    assert (made.technician_id, made.planned_for, made.note) == (technician.pk, date(2026, 5, 6), "trailer")


def test_without_a_machine_one_is_led_to_add_one_first(farm):
    for name in ("order-new", "reading-new"):
        page = farm.client("manager").get(reverse(name)).content.decode()
        assert "No machine is in service." in page, name
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
    assert "No machine is in service." in client.get(reverse("order-new")).content.decode()


def test_a_refused_order_keeps_what_was_ticked_and_typed(farm, machine, duty, technician):
    duty.task.skill = "licensed"
    duty.task.save()
    other = due(machine, "Grease", TODAY)
    url = f"{reverse('order-new')}?machine={machine.pk}"
    sent = {"duties": [duty.pk], "technician": technician.pk, "note": "bring the trailer"}
    answer = farm.client("manager").post(url, sent)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "is work for a licensed shop" in answer.context["form"].errors["technician"][0]
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
        reverse("order-park", args=[order.pk]), {"revision": 1, "reason": "belt from Vic"}
    )
    assert answer.status_code == 409
    page = answer.content.decode()
    assert "Order 1 has changed since you opened it: it is started" in page
    assert "belt from Vic" in page
    assert answer.context["park_form"]["revision"].value() == 2


def test_a_reason_typed_too_late_is_still_shown(farm, order):
    with farm.scope():
        workorders.withdraw(order=order, member=farm.manager, revision=1, reason="sold")
    answer = farm.client("technician").post(
        reverse("order-park", args=[order.pk]), {"revision": 1, "reason": "belt from Vic"}
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


# ------------------------------------------------------------------ closing


def test_an_order_is_closed_with_a_value_in_inches(farm, machine, duty, technician, started):
    with farm.scope():
        part = PartFactory(organisation=farm.organisation, in_stock=Decimal(5))
    more = {
        f"labour-{technician.pk}-minutes": "45",
        "further-0-part": part.pk,
        "further-0-quantity": "1,5",
        "close": "yes",
    }
    # NIST SP 811: 0.3 in is 7.62 mm exactly, the upper limit
    sent = filled_in(farm, started, found="0.3", unit="in", **more)
    answer = farm.client("technician").post(reverse("order-close", args=[started.pk]), sent, follow=True)
    assert answer.status_code == 200
    closed = now(farm, started)
    assert (closed.state, closed.hours_at_close) == ("closed", Decimal("1004.50"))
    with farm.scope():
        result = CheckResult.objects.get()
        assert (result.as_found, result.found_passes) == ("0.3 in", True)
        assert closed.labour.get().minutes == 45
        assert closed.parts.get().quantity == Decimal("1.5")
        duty.refresh_from_db()
        assert duty.mark_hours == 1100
    page = answer.content.decode()
    assert "0.3 in" in page
    assert "within limits" in page


def test_every_problem_is_shown_at_its_field_with_what_was_typed(farm, started):
    line, check = names(farm, started)
    sent = filled_in(
        farm, started, found="9", hours="", **{f"{line}-note": "belt frayed", "further-0-quantity": "2"}
    )
    answer = farm.client("technician").post(reverse("order-close", args=[started.pk]), sent)
    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert set(errors) == {f"{check}-left", "further-0-part", "hours"}
    page = answer.content.decode()
    assert "Out of limits as found" in page
    assert "belt frayed" in page
    assert f'name="{check}-found" value="9"' in page
    assert now(farm, started).state == "started"


def test_the_second_of_two_people_loses_nothing_typed(farm, started):
    line, check = names(farm, started)
    first, second = farm.client("technician"), farm.client("manager")
    url = reverse("order-close", args=[started.pk])
    assert first.post(url, filled_in(farm, started)).status_code == 302
    sent = filled_in(
        farm, started, found="7.3", **{f"{line}-note": "tightened it twice", "further-1-quantity": "3"}
    )
    sent["further-1-part"] = PartFactory(organisation=farm.organisation).pk
    answer = second.post(url, sent)
    assert answer.status_code == 409
    page = answer.content.decode()
    assert f"{farm.technician} closed it on 4 May at 12:00" in page
    assert f'name="{check}-found" value="7.3"' in page
    assert "tightened it twice" in page
    assert 'name="further-1-quantity" value="3"' in page
    assert "Close the order" not in page
    with farm.scope():
        assert CheckResult.objects.get().found_value == Decimal("7.5")


def test_after_somebody_saved_the_typed_values_can_be_sent_again(farm, started):
    _, check = names(farm, started)
    url = reverse("order-close", args=[started.pk])
    farm.client("manager").post(url, filled_in(farm, started, found="7.1", save="yes"))
    second = farm.client("technician")
    answer = second.post(url, filled_in(farm, started, found="7.2"))
    assert answer.status_code == 409
    page = answer.content.decode()
    assert 'name="revision" value="3"' in page
    assert f'name="{check}-found" value="7.2"' in page
    again = filled_in(farm, started, found="7.2") | {"revision": 3, "asked": f"{check}-found"}
    assert second.post(url, again).status_code == 409
    assert second.post(url, again | {f"stands-{check}-found": "mine"}).status_code == 302
    assert now(farm, started).state == "closed"


def test_save_not_finished_comes_back_filled_in(farm, technician, started):
    line, check = names(farm, started)
    with farm.scope():
        part = PartFactory(organisation=farm.organisation, in_stock=Decimal(5))
    url = reverse("order-close", args=[started.pk])
    more = {
        f"{line}-note": "waiting for the belt",
        f"labour-{technician.pk}-minutes": "20",
        "further-0-part": part.pk,
        "further-0-quantity": "2",
        "save": "yes",
    }
    sent = filled_in(farm, started, found="0.31", unit="in", outcome="", hours="", **more)
    client = farm.client("technician")
    assert client.post(url, sent).status_code == 302
    page = client.get(url).content.decode()
    assert f'name="{check}-found" value="0.31"' in page
    assert '<option value="in" selected>' in page
    assert "waiting for the belt" in page
    assert f'name="parts-{part.pk}-quantity" value="2"' in page
    assert f'name="labour-{technician.pk}-minutes" value="20"' in page
    with farm.scope():
        part.refresh_from_db()
        assert part.in_stock == 5


def test_what_the_tasks_ask_for_is_filled_in_at_first(farm, duty, started):
    with farm.scope():
        part = PartFactory(organisation=farm.organisation, unit="L", in_stock=Decimal(1))
        duty.task.supplies.create(organisation=farm.organisation, part=part, quantity=Decimal("4.5"))
    page = farm.client("technician").get(reverse("order-close", args=[started.pk])).content.decode()
    assert f'name="parts-{part.pk}-quantity" value="4.5"' in page


def test_unlikely_hours_can_be_confirmed_and_are_held(farm, machine, started):
    client, url = farm.client("technician"), reverse("order-close", args=[started.pk])
    answer = client.post(url, filled_in(farm, started, hours="10040"))
    assert set(answer.context["form"].errors) == {"hours"}
    assert 'name="hours_confirmed"' in answer.content.decode()
    answer = client.post(url, filled_in(farm, started, hours="10040", hours_confirmed="on"), follow=True)
    assert "wait for a decision" in answer.content.decode()
    with farm.scope():
        assert Reading.objects.get(source="order").state == "held"
    assert now(farm, started).hours_at_close == 1000


def test_a_failed_safety_check_shows_the_tag_out(farm, machine, duty, started):
    with farm.scope():
        duty.task.checks.update(safety=True)
    _, check = names(farm, started)
    sent = filled_in(farm, started, found="9", **{f"{check}-left": "9"})
    answer = farm.client("technician").post(reverse("order-close", args=[started.pk]), sent, follow=True)
    assert "Nobody may use T-07 until it is cleared" in answer.content.decode()
    with farm.scope():
        assert TagOut.objects.open().get().machine == machine


def test_only_a_started_order_has_a_closing_form(farm, order):
    answer = farm.client("technician").get(reverse("order-close", args=[order.pk]), follow=True)
    assert answer.redirect_chain == [(reverse("order", args=[order.pk]), 302)]
    assert "only a started order is closed" in answer.content.decode()


# ------------------------------------------------------------------ bench, list, sheet


def test_bench_shows_my_next_job_with_what_it_needs(farm, machine, duty, technician, order):
    with farm.scope():
        duty.task.tools.create(organisation=farm.organisation, tool="wrench", size="17 mm")
        duty.task.tools.create(organisation=farm.organisation, tool="wrench", size="12 mm")
        part = PartFactory(organisation=farm.organisation, name="Fan belt", in_stock=Decimal(0))
        duty.task.supplies.create(organisation=farm.organisation, part=part, quantity=1)
        later = due(machine, "Grease", TODAY)
        parked = due(machine, "Filters", TODAY)
        nobody = due(machine, "Lamps", TODAY)
        for work, day, who in (
            (later, date(2026, 5, 9), technician),
            (parked, TODAY, technician),
            (nobody, TODAY, None),
        ):
            made = workorders.plan(
                member=farm.manager, machine=machine, duties=[work], technician=who, planned_for=day
            )
            if work is parked:
                workorders.park(order=made, member=farm.technician, revision=1, reason="filter ordered")
    answer = farm.client("technician").get(reverse("bench"))
    assert answer.context["next"] == order
    assert [row.number for row in answer.context["then"]] == [2]
    assert [row.number for row in answer.context["parked"]] == [3]
    assert [(who, [row.number for row in rows]) for who, rows in answer.context["others"]] == [(None, [4])]
    page = answer.content.decode()
    assert "wrench 12, 17 mm" in page
    assert "Fan belt: 1 pc missing" in page
    assert "filter ordered" in page


def test_bench_of_a_manager_shows_everybodys_jobs(farm, order, technician):
    answer = farm.client("manager").get(reverse("bench"))
    assert [(who, rows) for who, rows in answer.context["others"]] == [(technician, [order])]


def test_orders_are_the_open_ones_until_asked_otherwise(farm, machine, order):
    with farm.scope():
        other = DutyFactory(machine=MachineFactory(organisation=farm.organisation, tag="S-01"))
        second = workorders.plan(member=farm.manager, machine=other.machine, duties=[other])
        workorders.withdraw(order=second, member=farm.manager, revision=1, reason="sold")
    client = farm.client("counter")

    def found(**asked):
        return [row.number for row in client.get(reverse("orders"), asked).context["page"]]

    assert found() == [1]
    assert found(state="every") == [2, 1]
    assert found(state="withdrawn") == [2]
    assert found(state="every", machine="s-0") == [2]
    assert found(technician=order.technician_id) == [1]


def test_the_sheet_prints_limits_cautions_and_who_comes_first(farm, duty, order):
    with farm.scope():
        duty.task.steps = ["Lift the bonnet.", "Press the belt."]
        duty.task.prepare = ["Key out."]
        duty.task.save()
        duty.task.cautions.create(
            organisation=farm.organisation, hazard="rotating", text="Wait for the fan.", before_step=2
        )
    page = farm.client("technician").get(reverse("order-sheet", args=[order.pk])).content.decode()
    assert "7 to 7.62 mm" in page
    assert "The maker's manual, local rules and licensed practice come first." in page.replace("&#x27;", "'")
    assert page.index("Lift the bonnet.") < page.index("Wait for the fan.") < page.index("Press the belt.")


def test_the_head_of_a_sheet_tells_what_the_meter_shows_where_that_is_another_figure(farm, machine, order):
    """Since the meter was replaced, 1000 h in all are 204.5 h on it."""
    client = farm.client("technician")
    pages = [reverse(name, args=[order.pk]) for name in ("order-sheet", "order", "order-handover")]
    bench = reverse("bench")
    for address in (*pages, bench):
        assert "meter shows" not in client.get(address).content.decode()
    with farm.scope():
        MeterSegment.objects.filter(machine=machine).update(offset=machine.hours - Decimal("204.5"))
    for address in (*pages, bench):
        said = client.get(address).content.decode()
        assert "1\u202f000.0\xa0h in all, meter shows 204.5\xa0h" in said, address
    with farm.scope():
        order = WorkOrder.objects.with_everything().get(pk=order.pk)
        assert "meter shows 204.5" in words(build_job_sheet(order), at=NOW)["about"]


def test_minutes_nobody_entered_are_said_on_every_sheet(farm, machine, duty, order):
    client = farm.client("technician")
    with farm.scope():
        Task.objects.filter(pk=duty.task_id).update(minutes=0)
    assert "1 task not entered" in client.get(reverse("order-sheet", args=[order.pk])).content.decode()
    assert "1 task not entered" in client.get(reverse("bench")).content.decode()
    with farm.scope():
        printed = words(build_job_sheet(WorkOrder.objects.get(pk=order.pk)), at=NOW)
    assert printed["hands_on"] == "1 task not entered"
    assert [line["time"] for line in printed["lines"]] == ["time not entered"]
    duties = client.get("/api/v1/duties").json()["results"]
    assert [each["task"]["minutes"] for each in duties] == [None]


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


# ------------------------------------------------------------------ a failed safety check on a refused page


@pytest.fixture
def safety_check(farm, duty):
    with farm.scope():
        duty.task.checks.update(safety=True)


@pytest.mark.parametrize("button", ["close", "save"])
@pytest.mark.parametrize(
    "more",
    [
        {"hours": "", "outcome": "left"},
        {"hours": "many"},
        {"hours": "1004", "further-0-quantity": "abc"},
        {"hours": "1004", "revision": "none"},
        {"hours": "", "revision": "1"},
    ],
    ids=["no hours and no reason", "hours unread", "a quantity unread", "revision unread", "stale"],
)
def test_a_refused_page_keeps_a_failed_safety_check_and_says_so(
    farm, machine, started, safety_check, more, button
):
    line, check = names(farm, started)
    more = {f"{line}-put_off_until": "some day", **more, button: "yes"}
    answer = farm.client("technician").post(
        reverse("order-close", args=[started.pk]), filled_in(farm, started, found="9", **more)
    )
    assert answer.status_code in (409, 422)
    page = answer.content.decode()
    assert "check failed: Belt deflection: 9 mm" in page
    assert f'name="{check}-found" value="9"' in page
    with farm.scope():
        assert TagOut.objects.open().get().machine == machine
    assert now(farm, started).state == "started"


def test_the_manager_sees_whose_entries_are_not_accepted(farm, started, safety_check):
    client, manager = farm.client("technician"), farm.client("manager")
    sent = filled_in(farm, started, found="9", outcome="referred", save="yes")
    assert client.post(reverse("order-close", args=[started.pk]), sent).status_code == 422
    today = manager.get(reverse("today")).content.decode()
    for page in (today, manager.get(started.get_absolute_url()).content.decode()):
        for said in (str(farm.technician), "Say what the dealer or licensed shop is to look at.", "12:00"):
            assert said in page
    for name in ("bench", "orders"):
        assert "entries not accepted" in manager.get(reverse(name)).content.decode()
    assert "Entries not accepted" not in farm.client("counter").get(reverse("today")).content.decode()
    line, _ = names(farm, started)
    sent |= {"revision": now(farm, started).revision, f"{line}-reason": "the tensioner"}
    assert client.post(reverse("order-close", args=[started.pk]), sent).status_code == 302
    assert "Entries not accepted" not in manager.get(reverse("today")).content.decode()


def test_on_a_conflict_what_was_left_empty_takes_what_is_recorded(farm, started):
    line, check = names(farm, started)
    url = reverse("order-close", args=[started.pk])
    farm.client("manager").post(url, filled_in(farm, started, found="7.1", save="yes"))
    second = farm.client("technician")
    mine = filled_in(farm, started, found="", outcome="", **{f"{line}-note": "checked cold"})
    answer = second.post(url, mine)
    assert answer.status_code == 409
    shown = answer.context["form"].data
    assert (shown[f"{check}-found"], shown[f"{line}-outcome"], shown[f"{line}-note"]) == (
        "7.1",
        "done",
        "checked cold",
    )


def test_minutes_by_the_clock(farm, technician, started):
    url = reverse("order-close", args=[started.pk])
    name = f"labour-{technician.pk}-minutes"
    refused = farm.client("technician").post(url, filled_in(farm, started, **{name: "1:75", "save": "yes"}))
    assert refused.context["form"].errors[name] == ["Enter whole minutes, like 75 or 1:15."]
    farm.client("technician").post(url, filled_in(farm, started, **{name: "1:15", "save": "yes"}))
    with farm.scope():
        assert now(farm, started).labour.get().minutes == 75
