"""Machines as their duties are worked out: each with when it came under its program, at how many hours."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, TypedDict

from django.db.models import F, OuterRef, Prefetch, Subquery
from django.db.models.functions import Coalesce, Greatest
from django.utils import timezone

from fleet.models import Attachment, Machine, MeterSegment, Reading
from fleet.models.fields import HoursField
from fleet.models.machine import share_yards_and_types
from fleet.readings import attachment_hours
from servicing.models import ProgramVersion

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    from fleet.models import Fitment
    from servicing.models import TaskOverride

    class Start(TypedDict):
        """What is read beside a machine."""

        program_from: datetime | None
        hours_at_start: Decimal
        fitted: list[Fitment]
        departs: list[TaskOverride]

    StartedMachine = WithAnnotations[Machine, Start]


def read_machines(ids: Iterable[int]) -> "list[StartedMachine]":
    """Return those in service, each with when it came under its program and the hours it then had.

    Of a machine whose hours weren't known when it came, these are the first that were read.
    """
    program = ProgramVersion.objects.filter(program__machine_type=OuterRef("type")).order_by("number")
    meter = MeterSegment.objects.filter(machine=OuterRef("pk")).order_by("started_at", "pk")
    reading = Reading.history(machine=OuterRef("pk")).by(OuterRef("program_from"))
    hours_here = Subquery(
        meter.annotate(total=F("shows_at_start") + F("offset")).values("total")[:1], output_field=HoursField()
    )
    known_first = Reading.history(machine=OuterRef("pk")).earliest_first()
    machines = list(
        Machine.objects.in_service()
        .filter(pk__in=ids)
        .prefetch_related(Prefetch("fitments", to_attr="fitted"), Prefetch("overrides", to_attr="departs"))
        .annotate(program_from=Subquery(program.values("made_at")[:1]))
        .annotate(
            hours_here=Coalesce(hours_here, Decimal(0), output_field=HoursField()),
            hours_then=Subquery(reading.values("hours")[:1]),
            hours_first=Subquery(known_first.values("hours")[:1]),
        )
        .annotate(
            hours_at_start=Greatest(
                "hours_here",
                Coalesce("hours_then", "hours_here"),
                Coalesce("hours_first", "hours_here"),
            )
        )
    )
    share_yards_and_types(machines)
    _start_attachments({machine.pk: machine for machine in machines if machine.is_attachment})
    return machines


def _start_attachments(attachments: "Mapping[int, StartedMachine]") -> None:
    """Set the hours at which these came under their program: the last known then; three queries."""
    if attachments:
        for pk, hours in Attachment.objects.filter(pk__in=attachments).values_list("pk", "hours_before"):
            attachments[pk].hours_at_start = hours
        for point in attachment_hours.histories(attachments, until=timezone.now()):
            machine = attachments[point.attachment]
            if machine.program_from and point.at <= machine.program_from:
                machine.hours_at_start = point.hours
