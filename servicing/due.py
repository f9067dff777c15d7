"""Duties: which task of which machine falls due at which mark, and on which day that is likely to be.

A duty's open mark follows from its rule, its last work and the values measured on its machine, so `refresh`
works it out anew each time: a changed condition, fitment or program version needs no special case, and
refreshing twice changes nothing. Where a value will reach its limit before the rule's hour mark, the mark is
that earlier one; `rule_hours` then keeps the rule's.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from itertools import groupby
from operator import itemgetter

from django.db import transaction
from django.db.models import F, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce, Greatest
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from fleet import mounted
from fleet.errors import FleetError
from fleet.models import Attachment, Machine, MeterSegment, Organisation, Reading
from fleet.models.fields import HoursField
from fleet.queue import publish_on_commit
from servicing import drift, projection, track
from servicing.applicable import ProgramTask, departures_of, rule_for, tasks_by_type, tasks_of
from servicing.models import Duty, ProgramVersion, Task
from servicing.planning.intervals import Mark, Rule, first_mark, next_mark

CHUNK = 2000  # machines refreshed at a time
SETTLE = timedelta(seconds=20)  # a machine waiting longer than this was missed by its own task
FORWARD = ("forward_hours", "forward_reason", "rule_hours")
MARKS = (
    *("task_id", "active", "mark_hours", "mark_on", *FORWARD),
    *("last_hours", "last_on", "met_hours", "met_on"),
)
DAYS = ("early", "likely", "late")
WRITTEN = ("task", "active", "mark_hours", "mark_on", *FORWARD, *DAYS, "projected_at")


def refresh(*, machine_ids: Iterable[int], now: datetime | None = None) -> int:
    """Create, re-mark and project the duties of these machines; return how many duties changed.

    Needs the organisation's scope. Asks a constant number of queries for each 2,000 machines. A duty whose
    task no longer applies turns inactive and keeps its last work; in a new program version it moves to the
    task of the same code. Work recorded meanwhile is never overwritten: its machine waits for the next run.
    """
    now = now or timezone.now()
    ids = sorted(set(machine_ids))
    return sum(_refresh(ids[start : start + CHUNK], now) for start in range(0, len(ids), CHUNK))


def refresh_all(*, now: datetime | None = None) -> int:
    """Refresh every machine in service of the organisation whose scope is open."""
    return refresh(machine_ids=Machine.objects.in_service().values_list("pk", flat=True), now=now)


def refresh_awaiting(*, machine_ids: Collection[int], now: datetime | None = None) -> int:
    """Refresh those of these machines that still wait for it: a task delivered twice works once."""
    waiting = Machine.objects.awaiting_projection().filter(pk__in=machine_ids)
    return refresh(machine_ids=waiting.values_list("pk", flat=True), now=now)


def sweep(*, now: datetime | None = None) -> int:
    """Refresh, in every organisation, the machines that no task has come for; return how many there were.

    A machine is claimed by stamping it anew, so that two sweeps at once share the work; one whose sweep dies
    is found again by the next.
    """
    now = now or timezone.now()
    with scopes_disabled():  # the sweep looks over all organisations
        due = Machine.objects.filter(projection_wanted_at__lte=now - SETTLE)
        oldest = list(due.order_by("projection_wanted_at").values_list("pk", flat=True)[:CHUNK])
        due.filter(pk__in=oldest).update(projection_wanted_at=now)
        ours = Machine.objects.filter(pk__in=oldest, projection_wanted_at=now)
        claimed = list(ours.values_list("organisation_id", "pk"))
    for organisation, ids in _by_organisation(claimed):
        with scope(organisation=Organisation.objects.get(pk=organisation)):
            refresh(machine_ids=ids, now=now)
    return len(claimed)


def hours_moved(machine_ids: Iterable[int]) -> None:
    """Queue a refresh of machines; whoever moved their hours has set `projection_wanted_at` with them."""
    from servicing.tasks import project_machines  # the tasks import this module

    with scopes_disabled():  # called after commit, with or without a scope; the ids are our own
        rows = list(Machine.objects.filter(pk__among=list(machine_ids)).values_list("organisation_id", "pk"))
    for organisation, ids in _by_organisation(rows):
        publish_on_commit(project_machines, organisation_id=organisation, machine_ids=ids)


def want(machine_ids: Iterable[int]) -> None:
    """Ask for a refresh of machines whose program, condition or fitments changed or whose work was done."""
    ids = list(machine_ids)
    Machine.objects.filter(pk__in=ids).update(projection_wanted_at=timezone.now())
    hours_moved(ids)


@dataclass(frozen=True, slots=True)
class Move:
    """What a version of a program does to one duty: its mark before and after. None: there is no duty."""

    machine: Machine
    title: str
    before: Mark | None
    after: Mark | None

    @property
    def is_new(self) -> bool:
        """Whether the machine did not have to do this before."""
        return self.before is None

    @property
    def is_ended(self) -> bool:
        """Whether the machine no longer has to do this."""
        return self.after is None

    @property
    def is_past(self) -> bool:
        """Whether the new mark has been reached already."""
        hours, on = (self.after.hours, self.after.on) if self.after else (None, None)
        return (hours is not None and hours <= self.machine.hours) or (
            on is not None and on <= self.machine.today()
        )


def foresee(*, version: ProgramVersion, now: datetime | None = None) -> list[Move]:
    """Return how marks would move if this version were applied now, by machine; nothing is written.

    Worked out as `refresh` does it. Duties whose mark stays are left out.
    """
    now = now or timezone.now()
    kind = version.program.machine_type_id
    machines = _machines(Machine.objects.in_service().filter(type=kind).values_list("pk", flat=True))
    if not ProgramVersion.objects.filter(program=version.program).exclude(pk=version.pk).exists():
        for machine in machines:  # its first version: the machines come under the program by applying it
            machine.program_from = now
            machine.hours_at_start = max(machine.hours_at_start, machine.hours)
    duties = _duties(machines)
    before = {id(duty): _mark_of(duty) for duty in duties}
    tasks = tasks_of(ProgramVersion.objects.filter(pk=version.pk))
    titles = dict(
        Task.objects.filter(Q(version=version) | Q(pk__in=[duty.task_id for duty in duties])).values_list(
            "pk", "title"
        )
    )
    of = {machine.pk: machine for machine in machines}
    applying = _apply(machines, duties, tasks)
    _bring_forward(applying, now)
    made = [duty for _, duty in applying if duty.pk is None]
    moves = [
        Move(of[duty.machine_id], titles[duty.task_id], before.get(id(duty)), _mark_of(duty))
        for duty in [*duties, *made]
    ]
    moved = [move for move in moves if move.before != move.after]
    return sorted(moved, key=lambda move: (move.machine.tag, move.is_ended, move.title))


def _mark_of(duty: Duty) -> Mark | None:
    return Mark(duty.mark_hours, duty.mark_on) if duty.active else None


@transaction.atomic
def meet(*, duty: Duty, hours: Decimal, on: date) -> Duty:
    """The duty's work was done at `hours` total hours on the yard's day `on`: move its mark; return it.

    The next mark is counted from the rule's own, not from one that a drifting value had brought forward. A
    once-only task is finished. The projected days are emptied until the refresh that this asks for.
    """
    met = Duty.objects.select_for_update(of=("self",)).select_related("machine", "task").get(pk=duty.pk)
    met.met_hours = met.mark_hours if met.forward_hours is None else met.rule_hours
    met.met_on = met.mark_on
    met.last_hours, met.last_on = hours, on
    rule = rule_for(met.task, met.machine) if met.active else None
    _set_mark(met, _open_mark(rule, met) if rule else None)
    met.early = met.likely = met.late = None
    met.put_off_until, met.put_off_reason = None, ""
    met.save()
    want([met.machine_id])
    return met


@transaction.atomic
def put_off(*, duty: Duty, until: date, reason: str) -> Duty:
    """Leave a duty until a later day, saying why. Its mark stays: what is past is still shown as past."""
    held = Duty.objects.select_for_update(of=("self",)).select_related("machine__yard__organisation")
    left = held.get(pk=duty.pk)
    if not reason.strip():
        raise FleetError("Say why it is left.", field="reason")
    if until <= left.machine.today():
        raise FleetError("Choose a day after today.", field="put_off_until")
    left.put_off_until, left.put_off_reason = until, reason.strip()
    left.save(update_fields=["put_off_until", "put_off_reason"])
    return left


def _by_organisation(rows: Iterable[tuple[int, int]]) -> Iterator[tuple[int, list[int]]]:
    for organisation, group in groupby(sorted(rows), key=itemgetter(0)):
        yield organisation, [pk for _, pk in group]


def _refresh(ids: Sequence[int], now: datetime) -> int:
    wanted = dict(
        Machine.objects.awaiting_projection().filter(pk__in=ids).values_list("pk", "projection_wanted_at")
    )
    machines = _machines(ids)
    duties = _duties(machines)
    before = {duty.pk: _values(duty, MARKS + DAYS) for duty in duties}
    applying = _apply(machines, duties, tasks_by_type({machine.type_id for machine in machines}))
    _bring_forward(applying, now)
    projected = projection.days(
        [(machine, Mark(duty.mark_hours, duty.mark_on)) for machine, duty in applying],
        now=now,
        correction=track.correction(),
    )
    for (_, duty), days in zip(applying, projected, strict=True):
        duty.early, duty.likely, duty.late = days
    created = [duty for _, duty in applying if duty.pk is None]
    changed = [duty for duty in duties if _values(duty, MARKS + DAYS) != before[duty.pk]]
    for duty in created + changed:
        duty.projected_at = now
    written, overtaken = _write(created, changed, before)
    _settle({pk: moment for pk, moment in wanted.items() if pk not in overtaken})
    return written


def _machines(ids: Sequence[int]) -> list[Machine]:
    """The machines in service, each with when it came under its program and the hours it then had."""
    program = ProgramVersion.objects.filter(program__machine_type=OuterRef("type")).order_by("number")
    meter = MeterSegment.objects.filter(machine=OuterRef("pk")).order_by("started_at", "pk")
    reading = Reading.objects.counted().filter(machine=OuterRef("pk"), taken_at__lte=OuterRef("program_from"))
    hours_here = Subquery(
        meter.annotate(total=F("shows_at_start") + F("offset")).values("total")[:1], output_field=HoursField()
    )
    machines = list(
        Machine.objects.in_service()
        .filter(pk__in=ids)
        .select_related("yard__organisation", "type")
        .prefetch_related("fitments", "overrides")
        .annotate(program_from=Subquery(program.values("made_at")[:1]))
        .annotate(
            hours_here=Coalesce(hours_here, Decimal(0), output_field=HoursField()),
            hours_then=Subquery(reading.order_by("-taken_at", "-pk").values("hours")[:1]),
        )
        .annotate(hours_at_start=Greatest("hours_here", Coalesce("hours_then", "hours_here")))
    )
    _start_attachments({machine.pk: machine for machine in machines if machine.is_attachment})
    return machines


def _start_attachments(attachments: Mapping[int, Machine]) -> None:
    """Set the hours at which these came under their program: the last known then; three queries."""
    if attachments:
        for pk, hours in Attachment.objects.filter(pk__in=attachments).values_list("pk", "hours_before"):
            attachments[pk].hours_at_start = hours
        for point in mounted.histories(attachments, until=timezone.now()):
            machine = attachments[point.attachment]
            if machine.program_from and point.at <= machine.program_from:
                machine.hours_at_start = point.hours


def _duties(machines: Sequence[Machine]) -> list[Duty]:
    """The machines' duties, those that hold now last."""
    return list(
        Duty.objects.filter(machine__in=machines)
        .annotate(code=F("task__code"), program=F("task__version__program"))
        .order_by("active", "task__version__number", "pk")
    )


def _apply(
    machines: Sequence[Machine], duties: Sequence[Duty], tasks: Mapping[int, Sequence[ProgramTask]]
) -> list[tuple[Machine, Duty]]:
    """Set task and mark of every duty that holds, making those that are missing; turn the others inactive.

    tasks: what the program asks, by machine type.
    """
    known = {(duty.machine_id, duty.program, duty.code): duty for duty in duties}
    applying, kept = [], set()
    for machine in machines:
        fitments = {fitment.pk for fitment in machine.fitments.all()}
        departures = departures_of(machine)
        for task in tasks.get(machine.type_id, ()):
            duty = known.get((machine.pk, task.program_id, task.code))
            rule = task.rule_for(machine, fitments, departures)
            if rule is None:
                continue
            duty = duty or Duty(organisation_id=machine.organisation_id, machine=machine)
            mark = _first_mark(rule, machine) if duty.last_on is None else _open_mark(rule, duty)
            if mark is None and duty.pk is None:
                continue
            duty.task_id = task.pk
            _set_mark(duty, mark)
            kept.add(id(duty))
            if mark:
                applying.append((machine, duty))
    for duty in duties:
        if id(duty) not in kept:
            _set_mark(duty, None)
        if not duty.active:
            duty.early = duty.likely = duty.late = None
    return applying


def _first_mark(rule: Rule, machine: Machine) -> Mark | None:
    """The mark of a task with no recorded work: the first after the machine came under the program."""
    from_on = machine.today(machine.program_from)
    return first_mark(
        rule, in_service_on=machine.in_service_on, hours_at_start=machine.hours_at_start, from_on=from_on
    )


def _open_mark(rule: Rule, duty: Duty) -> Mark | None:
    """The mark after the duty's last work."""
    return next_mark(rule, Mark(duty.met_hours, duty.met_on), duty.last_hours, duty.last_on)


def _set_mark(duty: Duty, mark: Mark | None) -> None:
    duty.active = mark is not None
    duty.mark_hours, duty.mark_on = (mark.hours, mark.on) if mark else (None, None)
    duty.forward_hours, duty.forward_reason, duty.rule_hours = None, "", None


def _bring_forward(applying: Sequence[tuple[Machine, Duty]], now: datetime) -> None:
    """Give the duties whose measured values reach a limit before their mark that earlier mark."""
    earlier = drift.forward_marks(applying, now=now)
    for _, duty in applying:
        forward = earlier.get((duty.machine_id, duty.task_id))
        if forward:
            duty.rule_hours, duty.mark_hours = duty.mark_hours, forward.hours
            duty.forward_hours, duty.forward_reason = forward.hours, forward.reason


def _values(duty: Duty, names: Sequence[str]) -> tuple[object, ...]:
    return tuple(getattr(duty, name) for name in names)


def _write(
    created: Sequence[Duty], changed: Sequence[Duty], before: dict[int, tuple[object, ...]]
) -> tuple[int, set[int]]:
    """Store what no work has overtaken since it was read; return how many, and the overtaken machines."""
    if not created and not changed:
        return 0, set()
    with transaction.atomic():
        # another refresh may have made them; ignore_conflicts would on SQLite hide a broken constraint too
        Duty.objects.bulk_create(
            created,
            update_conflicts=True,
            unique_fields=["machine", "task"],
            update_fields=["projected_at"],
        )
        locked = Duty.objects.select_for_update().filter(pk__in=[duty.pk for duty in changed]).order_by("pk")
        stored = {pk: tuple(values) for pk, *values in locked.values_list("pk", *MARKS)}
        unmoved = [duty for duty in changed if stored.get(duty.pk) == before[duty.pk][: len(MARKS)]]
        # an upsert by id: one statement for many rows, where bulk_update writes a CASE for every value
        Duty.objects.bulk_create(
            unmoved,
            update_conflicts=True,
            unique_fields=["id"],
            update_fields=WRITTEN,
        )
    overtaken = {duty.machine_id for duty in changed} - {duty.machine_id for duty in unmoved}
    return len(created) + len(unmoved), overtaken


def _settle(wanted: dict[int, datetime]) -> None:
    """Note that these machines are projected, unless something moved since they were read."""
    if not wanted:
        return
    with transaction.atomic():
        locked = Machine.objects.select_for_update().filter(pk__in=wanted).order_by("pk")
        same = [pk for pk, at in locked.values_list("pk", "projection_wanted_at") if at == wanted[pk]]
        Machine.objects.filter(pk__in=same).update(projection_wanted_at=None)
