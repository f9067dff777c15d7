"""With whom a unit is out, and who took it back: in sentences."""

from datetime import datetime
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from fleet.core.wording import day, hours
from fleet.models import Hire, Machine


def gone_out(hire: Hire, machine: Machine) -> str:
    """Return a sentence: with whom it is out, by whom and when it was sent, with which hours and fuel."""
    out = _("It has been out with {hirer} since {moment}, sent out by {who}").format(
        hirer=hire.hirer,
        moment=_moment(machine, hire.out_at),
        who=hire.out_by or pgettext("sent out by", "someone"),
    )
    until = _("no return day agreed")
    if hire.due_back_on:
        until = _("due back {day}").format(day=day(hire.due_back_on))
    return f"{', '.join([out, until, _at(hire.hours_out), *_tank(hire.fuel_out)])}."


def come_back(hire: Hire, machine: Machine) -> str:
    """Return a sentence: who took it back from whom and when, with which hours and fuel."""
    assert hire.back_at is not None
    back = _("It was taken back on {moment} from {hirer}")
    if hire.back_by:
        back = _("It was taken back by {who} on {moment} from {hirer}")
    back = back.format(who=hire.back_by, moment=_moment(machine, hire.back_at), hirer=hire.hirer)
    at = _("hours not read") if hire.hours_back is None else _at(hire.hours_back)
    return f"{', '.join([back, at, *_tank(hire.fuel_back)])}."


def last_hire(machine: Machine) -> Hire | None:
    """Return the hire a machine came back from last."""
    ended = Hire.objects.with_people().filter(machine=machine).exclude(back_at=None)
    return ended.order_by("-back_at").first()


def _moment(machine: Machine, at: datetime) -> str:
    local = at.astimezone(machine.zoneinfo)
    return _("{day} at {time}").format(day=day(local.date()), time=f"{local:%H:%M}")


def _at(shown: Decimal | None) -> str:
    return _("at {hours}").format(hours=hours(shown))


def _tank(fuel: int | None) -> list[str]:
    return [] if fuel is None else [_("tank {fuel} full").format(fuel=f"{fuel}\u00a0%")]
