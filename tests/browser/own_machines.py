"""Machines that the walks have for themselves: new, so that on no day of the year work is due on them.

What the demonstration's own machines are up to depends on the day it is built.
"""

from datetime import timedelta
from decimal import Decimal

from django_scopes import scope, scopes_disabled

from fixtures.demo.people import FARM, YARD, House
from fleet.machines.register import Facts, register
from fleet.models import Machine, Member
from servicing.duties.refresh import refresh_duties

TRACTORS = "W-"
UNITS = "WH-"
METERS = "WM-"
"""How the tags begin: of tractors at the farm; of units for hire, ready at the gate; of what is only read."""

NEW = Decimal("3.2")
RUN_IN = Decimal("853.2")  # hours, so that a digit too many can't be true


def register_all() -> None:
    """Register them in the demonstration."""
    _register(FARM, like="T-01", prefix=TRACTORS, number=18)
    _register(YARD, like="TR-01", prefix=UNITS, number=6)
    _register(FARM, like="T-01", prefix=METERS, number=4, hours=RUN_IN, without_program=True)


def _register(
    house: House,
    *,
    like: str,
    prefix: str,
    number: int,
    hours: Decimal = NEW,
    without_program: bool = False,
) -> None:
    manager = next(each for each in house.people if each.role == "manager")
    with scopes_disabled():
        member = Member.objects.select_related("organisation").get(user__username=manager.username)
    with scope(organisation=member.organisation):
        alike = Machine.objects.select_related("type", "yard").get(tag=like)
        fitments = list(alike.fitments.all())
        if without_program:
            alike.type.pk, alike.type.model = None, f"{alike.type.model} {prefix}"
            alike.type.save()
        since = member.organisation.today() - timedelta(days=2)
        for each in range(1, number + 1):
            facts = Facts(
                type=alike.type,
                yard=alike.yard,
                tag=f"{prefix}{each:02d}",
                in_service_on=since,
                condition=alike.condition,
                for_hire=alike.for_hire,
            )
            register(facts=facts, member=member, fitments=fitments, hours_at_start=hours)
        refresh_duties(
            machine_ids=Machine.objects.filter(tag__startswith=prefix).values_list("pk", flat=True)
        )
