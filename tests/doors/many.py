"""Many machines at once, each with what a machine gathers; written a table at a time."""

from collections.abc import Callable, Iterable
from datetime import timedelta
from decimal import Decimal
from typing import Any

from fleet.models import (
    ApiToken,
    Ask,
    Attachment,
    Booking,
    Hire,
    Holiday,
    Machine,
    Member,
    MeterSegment,
    Mounting,
    Reading,
    TagOut,
    TelematicsSource,
    TelematicsUnit,
    User,
    Yard,
)
from notifications.models import Message
from servicing.models import (
    CheckResult,
    Duty,
    Fault,
    Labour,
    Line,
    Part,
    PartUsed,
    RefusedEntries,
    SafetyFailure,
    Stock,
    SupplyNeed,
    Task,
    Technician,
    WorkOrder,
)
from tests.doors.rows import NOW, SHOWS, TODAY, Rows

ORDERS = ("planned", "started", "on hold", "closed")


class Filling:
    """Writes rows of one organisation beside those it has."""

    def __init__(self, rows: Rows) -> None:
        self.rows = rows
        self.own = {"organisation": rows.house.organisation}

    def make(self, model: Any, each: Callable[[int], dict[str, Any]], numbers: Iterable[int]) -> list[Any]:
        """Write a row for each number."""
        return model.objects.bulk_create(model(**self.own, **each(number)) for number in numbers)

    def fill(self, numbers: range) -> None:
        """Write so many machines with everything, and people, yards, parts and messages in the same number.

        The rows that single pages show (`rows.machine`, `rows.started`) get more of everything too.
        """
        with self.rows.house.scope():
            machines = self._machines(numbers)
            self._people(numbers)
            self._work(machines, numbers)
            self._told(numbers)

    def _machines(self, numbers: range) -> list[Machine]:
        rows = self.rows
        machines = self.make(
            Machine,
            lambda n: {
                "tag": f"Q-{n:04d}",
                "type": rows.kind,
                "yard": rows.yard,
                "in_service_on": TODAY - timedelta(days=400),
                "for_hire": n % 2 == 0,
                "hours": SHOWS,
                "hours_at": NOW - timedelta(days=1),
            },
            numbers,
        )
        for machine in machines:
            machine.fitments.add(rows.fitment)
        of = dict(zip(numbers, machines, strict=True))
        segments = self.make(
            MeterSegment, lambda n: {"machine": of[n], "started_at": NOW - timedelta(days=400)}, numbers
        )
        of_segment = dict(zip(numbers, segments, strict=True))
        for days in (10, 5, 1):

            def seen(n: int, days: int = days) -> dict[str, Any]:
                return self._reading(of[n], of_segment[n], days)

            self.make(Reading, seen, numbers)
        self.make(
            Reading,
            lambda n: self._reading(
                rows.machine, rows.reading.segment, 30 + n / 50, taken_by=rows.house.counter
            ),
            numbers,
        )
        self.make(
            Reading,
            lambda n: self._reading(
                of[n], of_segment[n], n / 1000, state="held", code="faster", reason="Too fast."
            ),
            numbers,
        )
        self.make(
            TelematicsUnit,
            lambda n: {
                "source": rows.source,
                "key": f"serial Q{n}",
                "serial": f"Q{n}",
                "machine": of[n] if n % 3 else None,
                "seen_at": NOW,
            },
            numbers,
        )
        self.make(
            Hire,
            lambda n: {
                "machine": of[n],
                "hirer": f"Hirer {n}",
                "out_at": NOW - timedelta(days=3),
                "hours_out": SHOWS,
                "due_back_on": TODAY - timedelta(days=n % 3),
                "out_by": rows.house.counter,
            },
            numbers[::4],
        )
        self.make(
            Ask,
            lambda n: {
                "machine": of[n],
                "matter": "clear" if n % 2 else "send-out",
                "against": ["Brake."],
                "asked_by": rows.house.counter,
            },
            numbers,
        )
        for machine in ([of[n] for n in numbers[::5]], [rows.machine for _ in numbers]):
            TagOut.objects.bulk_create(
                TagOut(**self.own, machine=each, reason="Brake.", placed_by=rows.house.technician)
                for each in machine
            )
        self.make(
            Booking,
            lambda n: {
                "machine": of[n],
                "kind": "job" if n % 2 else "hire",
                "what": f"Job {n}",
                "first_on": TODAY + timedelta(days=1),
                "last_on": TODAY + timedelta(days=4),
                "hours_a_day": 5,
                "made_at": NOW,
            },
            numbers,
        )
        self.make(
            Booking,
            lambda n: {
                "machine": rows.machine,
                "kind": "hire",
                "what": f"Hirer {n}",
                "first_on": TODAY + timedelta(days=200 + n),
                "last_on": TODAY + timedelta(days=200 + n),
                "hours_a_day": 5,
                "made_at": NOW,
            },
            numbers,
        )
        self.make(
            Holiday,
            lambda n: {
                "name": f"Day {n}",
                "yard": rows.yard if n % 2 else None,
                "first_on": TODAY + timedelta(days=n),
                "last_on": TODAY + timedelta(days=n),
            },
            numbers,
        )
        # a kind of machine, with a table of its own: one by one
        attached = [
            Attachment.objects.create(
                **self.own,
                tag=f"Z-{n:04d}",
                type=rows.hung_kind,
                yard=rows.yard,
                in_service_on=TODAY - timedelta(days=400),
            )
            for n in numbers
        ]
        Mounting.objects.bulk_create(
            Mounting(
                **self.own,
                attachment=attachment,
                machine=rows.machine if n % 2 else of[n],
                mounted_at=NOW - timedelta(days=9),
                hours_on=SHOWS,
            )
            for n, attachment in zip(numbers, attached, strict=True)
        )
        return machines

    def _reading(self, machine: Machine, segment: MeterSegment, days: float, **other: Any) -> dict[str, Any]:
        shows = SHOWS - round(Decimal(days), 2)
        known = {"state": "counted", "code": "ok", "source": "page", "sender": "page"}
        return {
            **known,
            "machine": machine,
            "segment": segment,
            "taken_at": NOW - timedelta(days=days),
            "shows": shows,
            "hours": shows,
            **other,
        }

    def _people(self, numbers: range) -> None:
        users = User.objects.bulk_create(
            User(username=f"many{n}", first_name=f"Many{n}", email=f"many{n}@example.org") for n in numbers
        )
        roles = ("technician", "counter", "manager")
        members = Member.objects.bulk_create(
            Member(**self.own, user=user, role=roles[n % 3]) for n, user in zip(numbers, users, strict=True)
        )
        self.technicians = Technician.objects.bulk_create(
            Technician(**self.own, member=member, hourly_rate=40)
            for member in members
            if member.role == "technician"
        )
        self.make(Yard, lambda n: {"name": f"Yard Q{n}"}, numbers)
        self.make(TelematicsSource, lambda n: {"name": f"Feed Q{n}"}, numbers)
        self.make(
            ApiToken,
            lambda n: {
                "name": f"token {n}",
                "member": self.rows.house.owner if n % 2 else None,
                "created_by": self.rows.house.owner,
                "prefix": f"hm_{n}",
                "digest": f"digest {n}",
                "expires_at": NOW + timedelta(days=90) if n % 2 else None,
            },
            numbers,
        )

    def _work(self, machines: list[Machine], numbers: range) -> None:
        rows = self.rows
        tasks = self.make(
            Task,
            lambda n: {"version": rows.version, "code": f"q-{n}", "title": f"Task Q{n}", "minutes": 10},
            numbers,
        )
        parts = self.make(Part, lambda n: {"number": f"Q-{n}", "name": "Filter", "unit_cost": 5}, numbers)
        self.make(Stock, lambda n: {"part": parts[n - numbers[0]], "yard": rows.yard, "quantity": 3}, numbers)
        self.make(
            SupplyNeed,
            lambda n: {"task": tasks[n - numbers[0]], "part": parts[n - numbers[0]], "quantity": 1},
            numbers,
        )
        for machine in (*machines, rows.machine):
            some = tasks if machine is rows.machine else [rows.task, *tasks[:2]]
            Duty.objects.bulk_create(
                Duty(
                    **self.own,
                    machine=machine,
                    task=task,
                    mark_hours=SHOWS + 50,
                    early=TODAY + timedelta(days=3),
                    likely=TODAY + timedelta(days=8),
                    late=TODAY + timedelta(days=20),
                    projected_at=NOW,
                )
                for task in some
            )
        self._orders(machines, numbers)
        for faulty in (machines, [rows.machine] * len(machines)):
            Fault.objects.bulk_create(
                Fault(**self.own, machine=machine, text="Hose weeps", reported_by=rows.house.counter)
                for machine in faulty
            )

    def _orders(self, machines: list[Machine], numbers: range) -> None:
        rows = self.rows
        duties = {duty.machine_id: duty for duty in Duty.objects.filter(machine__in=machines, task=rows.task)}
        start = WorkOrder.objects.count() + 1000
        orders = []
        for n, machine in zip(numbers, machines, strict=True):
            state = ORDERS[n % 4]
            done = (
                {
                    "closed_at": NOW - timedelta(days=20),
                    "closed_by": rows.house.manager,
                    "hours_at_close": SHOWS,
                }
                if state == "closed"
                else {}
            )
            orders.append(
                WorkOrder(
                    **self.own,
                    **done,
                    machine=rows.machine if n % 3 == 0 else machine,
                    number=start + n,
                    state=state,
                    planned_for=TODAY - timedelta(days=n % 5),
                    technician=self.technicians[n % len(self.technicians)] if n % 2 else rows.technician,
                    started_at=None if state == "planned" else NOW - timedelta(days=21),
                )
            )
        WorkOrder.objects.bulk_create(orders)
        lines = Line.objects.bulk_create(
            Line(
                **self.own,
                order=order,
                title="Fan belt",
                task=rows.task,
                duty=duties.get(order.machine_id),
                open=order.state != "closed",
                outcome="done" if order.state == "closed" else "",
                mark_hours=SHOWS,
                done_hours=SHOWS if order.state == "closed" else None,
                done_on=TODAY - timedelta(days=20) if order.state == "closed" else None,
            )
            for order in orders
            if order.machine_id != rows.machine.pk
        )
        CheckResult.objects.bulk_create(
            CheckResult(
                **self.own,
                line=line,
                check_made=rows.check,
                kind="measure",
                label="Belt deflection",
                unit="mm",
                lower=7,
                upper=9,
                found_value=8,
                found_unit="mm",
                found_passes=True,
                recorded_by=rows.house.technician,
            )
            for line in lines
        )
        RefusedEntries.objects.bulk_create(
            RefusedEntries(
                **self.own,
                order=order,
                member=self.technicians[0].member,
                problems=[{"at": "Fan belt: deferred until", "why": "Say until which day it is deferred."}],
            )
            for order in orders
        )
        SafetyFailure.objects.bulk_create(
            SafetyFailure(
                **self.own,
                machine=order.machine,
                order=order,
                check_made=rows.check,
                kind="measure",
                label="Belt deflection",
                found_value=11,
                found_unit="mm",
                found_passes=False,
                recorded_by=rows.house.technician,
            )
            for order in [*orders, *[rows.started] * len(orders)]
        )
        Labour.objects.bulk_create(
            Labour(**self.own, order=order, technician=rows.technician, minutes=30, hourly_rate=40)
            for order in (*orders, *[rows.started] * len(orders))
        )
        PartUsed.objects.bulk_create(
            PartUsed(**self.own, order=order, part=rows.part, quantity=1, unit_cost=5) for order in orders
        )

    def _told(self, numbers: range) -> None:
        self.make(
            Message,
            lambda n: {
                "member": self.rows.house.owner,
                "address": "owner@example.org",
                "subject": f"Subject {n}",
                "body": "Two duties are past.",
            },
            numbers,
        )
