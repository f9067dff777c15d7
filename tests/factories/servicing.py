"""Programs, duties, orders and faults."""

from datetime import date
from decimal import Decimal

import factory
from django_scopes import scopes_disabled

from fleet.models import Yard
from servicing import models
from tests.factories.base import ScopedFactory
from tests.factories.fleet import (
    MachineFactory,
    MachineTypeFactory,
    MemberFactory,
    OrganisationFactory,
    YardFactory,
)


class ProgramFactory(ScopedFactory):
    class Meta:
        model = models.ServiceProgram

    organisation = factory.SubFactory(OrganisationFactory)
    machine_type = factory.SubFactory(
        MachineTypeFactory, organisation=factory.SelfAttribute("..organisation")
    )
    code = factory.Sequence(lambda n: f"program-{n}")
    title = factory.Sequence(lambda n: f"Program {n}")


class ProgramVersionFactory(ScopedFactory):
    class Meta:
        model = models.ProgramVersion

    organisation = factory.SelfAttribute("program.organisation")
    program = factory.SubFactory(ProgramFactory)
    number = 1
    state = "current"


class TaskFactory(ScopedFactory):
    """A task without an interval; add IntervalFactory(task=...)."""

    class Meta:
        model = models.Task

    organisation = factory.SelfAttribute("version.organisation")
    version = factory.SubFactory(ProgramVersionFactory)
    code = factory.Sequence(lambda n: f"task-{n}")
    title = factory.Sequence(lambda n: f"Task {n}")
    minutes = 20
    runs = False


class IntervalFactory(ScopedFactory):
    class Meta:
        model = models.Interval

    organisation = factory.SelfAttribute("task.organisation")
    task = factory.SubFactory(TaskFactory)
    every_hours = Decimal("100")


class CheckFactory(ScopedFactory):
    class Meta:
        model = models.Check

    organisation = factory.SelfAttribute("task.organisation")
    task = factory.SubFactory(TaskFactory)
    code = factory.Sequence(lambda n: f"check-{n}")
    kind = "measure"
    label = "Belt deflection"
    unit = "mm"
    lower = Decimal("7")
    upper = Decimal("9")


class DutyFactory(ScopedFactory):
    """A duty of a machine; machine and task in one organisation."""

    class Meta:
        model = models.Duty

    organisation = factory.SelfAttribute("machine.organisation")
    machine = factory.SubFactory(MachineFactory)
    task = factory.SubFactory(
        TaskFactory,
        version=factory.SubFactory(
            ProgramVersionFactory,
            program=factory.SubFactory(
                ProgramFactory,
                organisation=factory.SelfAttribute("....machine.organisation"),
                machine_type=factory.SubFactory(
                    MachineTypeFactory, organisation=factory.SelfAttribute("..organisation")
                ),
            ),
        ),
    )
    mark_hours = Decimal("100")
    early = date(2026, 3, 1)
    likely = date(2026, 3, 10)
    late = date(2026, 3, 25)


class TechnicianFactory(ScopedFactory):
    class Meta:
        model = models.Technician

    organisation = factory.SelfAttribute("member.organisation")
    member = factory.SubFactory(MemberFactory, role="technician")
    hourly_rate = Decimal("40")


class PartFactory(ScopedFactory):
    class Meta:
        model = models.Part
        skip_postgeneration_save = True

    organisation = factory.SubFactory(OrganisationFactory)
    number = factory.Sequence(lambda n: f"HX-{n:04d}")
    name = "Oil filter"
    unit_cost = Decimal("12.50")

    @factory.post_generation
    def in_stock(self, create, quantity, **_):
        """So much of it in the organisation's first yard; one is made where there is none."""
        if quantity is not None:
            with scopes_disabled():  # a factory names the organisation itself
                yard = Yard.objects.filter(organisation=self.organisation).order_by("pk").first()
                yard = yard or YardFactory(organisation=self.organisation)
                self.stocks.create(organisation=self.organisation, yard=yard, quantity=Decimal(quantity))


class StockFactory(ScopedFactory):
    class Meta:
        model = models.Stock

    organisation = factory.SelfAttribute("part.organisation")
    part = factory.SubFactory(PartFactory)
    yard = factory.SubFactory(YardFactory, organisation=factory.SelfAttribute("..organisation"))
    quantity = Decimal("5")


class WorkOrderFactory(ScopedFactory):
    class Meta:
        model = models.WorkOrder

    organisation = factory.SelfAttribute("machine.organisation")
    machine = factory.SubFactory(MachineFactory)
    number = factory.Sequence(lambda n: n + 1)


class LineFactory(ScopedFactory):
    class Meta:
        model = models.Line

    organisation = factory.SelfAttribute("order.organisation")
    order = factory.SubFactory(WorkOrderFactory)
    title = "Change engine oil"


class FaultFactory(ScopedFactory):
    class Meta:
        model = models.Fault

    organisation = factory.SelfAttribute("machine.organisation")
    machine = factory.SubFactory(MachineFactory)
    text = "Oil leak at the front axle"
