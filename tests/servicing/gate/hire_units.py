"""Units that go out and come back."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal as D

from servicing import gate
from tests.factories import DutyFactory, ReadingFactory

NOW = datetime(2026, 5, 3, 10, 0, tzinfo=UTC)
TODAY = date(2026, 5, 3)


def unit(house, **values):
    """A rental unit whose meter was read at 100 h two days ago."""
    values = {"for_hire": True, "hours": D(100), "hours_at": NOW} | values
    machine = house.machine(**values)
    ReadingFactory(machine=machine, taken_at=NOW - timedelta(days=2), shows=D(100))
    return machine


def duty_of(machine, **values):
    """Work of a unit, far ahead unless said otherwise."""
    ahead = {"early": None, "likely": None, "late": None, "mark_hours": D(9000)}
    return DutyFactory(machine=machine, **(ahead | {"task__title": "Engine oil"} | values))


def out(house, machine, **values):
    """Send it out as the counter does, to Gala Ros."""
    asked = {"hirer": "Gala Ros", "due_back_on": None, "shows": None, "fuel": None, "member": house.counter}
    return gate.check_out(machine=machine, **{**asked, **values})


def back(house, machine, **values):
    """Take it back as the counter does."""
    return gate.check_in(machine=machine, **{"shows": None, "fuel": None, "member": house.counter, **values})
