"""A retired machine: not used, not projected, still found; and what has to be ended before it is retired."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal as D

import pytest
from django.urls import reverse

from fleet.core.errors import FleetError
from fleet.machines import retirement
from fleet.models import Machine
from servicing import workorders
from tests.factories import BookingFactory, DutyFactory, FaultFactory, WorkOrderFactory

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
TODAY = date(2026, 5, 4)
pytestmark = pytest.mark.time_machine(NOW, tick=False)


@pytest.fixture
def machine(machine):
    """With an overdue fan belt."""
    DutyFactory(
        machine=machine, mark_hours=D(900), task__title="Fan belt", early=TODAY, likely=TODAY, late=TODAY
    )
    return machine


@pytest.fixture
def retired(farm, machine):
    with farm.scope():
        return retirement.retire(machine=machine, on=TODAY, member=farm.manager)


def page(house, name, *args, role="manager", **asked):
    answer = house.client(role).get(reverse(name, args=args), asked)
    assert answer.status_code == 200
    return answer.content.decode()


def test_it_is_retired_whatever_else_it_is(farm, machine, retired):
    with farm.scope():
        Machine.objects.filter(pk=machine.pk).update(in_shop_since=NOW)
        machine = Machine.objects.with_state().get(pk=machine.pk)
    assert machine.state == "retired"
    api = farm.client("manager")
    assert api.get(f"/api/v1/machines/{machine.pk}").json()["state"] == "retired"
    for state, found in (("retired", ["T-07"]), ("ready", []), ("in the shop", [])):
        rows = api.get("/api/v1/machines", {"state": state}).json()["results"]
        assert [row["tag"] for row in rows] == found, state


def test_its_page_projects_nothing_and_keeps_the_record(farm, machine, retired):
    said = page(farm, "machine", machine.pk)
    assert "Retired on Mon\xa04\xa0May" in said
    assert "being worked out" not in said
    for offered in (
        f"/readings/new/?machine={machine.pk}",
        "Make an order",
        "Report a fault",
        "Book it",
        "Fan belt",
        "What is due",
    ):
        assert offered not in said, offered
    assert "1\u202f000.0\xa0h" in said, "its hours"
    assert farm.client("manager").get(reverse("machine", args=[machine.pk])).context["readings"]


def test_no_duties_on_today_and_ahead(farm, machine, retired):
    for name in ("today", "ahead"):
        assert "T-07" not in page(farm, name), name


def test_it_is_found_by_its_state_and_by_a_word_and_listed_nowhere_else(farm, machine, retired):
    farm.machine(tag="T-08")
    assert "T-07" not in page(farm, "machines")
    assert "T-07" not in page(farm, "machines", state="ready")
    for asked in ({"word": "t-07"}, {"state": "retired"}, {"word": "t-07", "state": "retired"}):
        said = page(farm, "machines", **asked)
        assert ">T-07</a>" in said, asked
        assert "T-08" not in said, asked
        assert "nothing since Mon\xa04\xa0May" in said
    assert "T-07" not in page(farm, "machines", word="t-07", state="ready")


def test_a_slip_is_taken_back_on_its_page(farm, machine, retired):
    assert "Return it to service" not in page(farm, "machine", machine.pk, role="technician")
    assert "Return it to service" in page(farm, "machine", machine.pk)
    farm.client("manager").post(reverse("machine-bring-back", args=[machine.pk]))
    said = page(farm, "machine", machine.pk)
    assert "Fan belt" in said
    assert "T-07" in page(farm, "today")


def test_what_is_open_for_it_is_named_at_once_and_it_stays(farm, machine):
    """Two bookings and three orders: its own planned and waiting ones, and one that mends its fault."""
    for first, last, what in ((3, 3, "the fair"), (7, 9, "Fennel Farm")):
        BookingFactory(
            machine=machine, what=what, first_on=TODAY + timedelta(first), last_on=TODAY + timedelta(last)
        )
    BookingFactory(
        machine=machine, what="last week", first_on=TODAY - timedelta(7), last_on=TODAY - timedelta(6)
    )
    with farm.scope():
        fault = FaultFactory(machine=machine)
        planned = workorders.plan(member=farm.manager, machine=machine, faults=[fault])
    waiting = WorkOrderFactory(machine=machine, number=51, state="on hold", hold_reason="seal")
    WorkOrderFactory(
        machine=machine,
        number=52,
        state="closed",
        closed_at=NOW,
        closed_by=farm.manager,
        hours_at_close=D(900),
    )
    answer = farm.client("manager").post(reverse("machine-retire", args=[machine.pk]), {"on": str(TODAY)})
    said = answer.content.decode().replace("\xa0", " ")
    assert answer.status_code == 422
    for named in (
        "It is booked for the fair, 7 May 2026; cancel the booking first.",
        "It is booked for Fennel Farm, 11 May to 13 May 2026; cancel the booking first.",
        f"Order {planned.number} is planned; close or cancel it first.",
        f"Order {waiting.number} is on hold; close or cancel it first.",
    ):
        assert named in said, named
    assert "last week" not in said
    with farm.scope():
        assert Machine.objects.get(pk=machine.pk).retired_on is None


def test_retiring_twice_does_not_move_the_day(farm, machine, retired):
    with farm.scope(), pytest.raises(FleetError, match="retired already"):
        retirement.retire(machine=machine, on=TODAY - timedelta(days=3), member=farm.manager)
