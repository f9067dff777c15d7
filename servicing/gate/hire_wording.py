"""With whom a unit is out, and who took it back: in sentences."""

from datetime import datetime

from fleet.core.wording import day, hours
from fleet.models import Hire, Machine


def gone_out(hire: Hire, machine: Machine) -> str:
    """Return a sentence: with whom it is out, by whom and when it was sent, with which hours and fuel."""
    told = f"with {hire.hirer} since {_moment(machine, hire.out_at)}, sent out by {hire.out_by or 'someone'}"
    until = f"due back {day(hire.due_back_on)}" if hire.due_back_on else "no return day agreed"
    return f"It is out {told}, {until}, at {hours(hire.hours_out)}{_tank(hire.fuel_out)}."


def come_back(hire: Hire, machine: Machine) -> str:
    """Return a sentence: who took it back from whom and when, with which hours and fuel."""
    by = f"by {hire.back_by} " if hire.back_by else ""
    at = f", at {hours(hire.hours_back)}" if hire.hours_back is not None else ", hours not read"
    assert hire.back_at is not None
    when = _moment(machine, hire.back_at)
    return f"It was taken back {by}on {when} from {hire.hirer}{at}{_tank(hire.fuel_back)}."


def last_hire(machine: Machine) -> Hire | None:
    """Return the hire a machine came back from last."""
    ended = Hire.objects.with_people().filter(machine=machine).exclude(back_at=None)
    return ended.order_by("-back_at").first()


def _moment(machine: Machine, at: datetime) -> str:
    local = at.astimezone(machine.zoneinfo)
    return f"{day(local.date())} at {local:%H:%M}"


def _tank(fuel: int | None) -> str:
    return "" if fuel is None else f", tank {fuel}\u00a0% full"
