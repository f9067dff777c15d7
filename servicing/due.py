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

import numpy as np
from django.db import transaction
from django.db.models import F, OuterRef, Prefetch, Q, Subquery
from django.db.models.functions import Coalesce, Greatest
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from fleet.core.errors import FleetError
from fleet.core.queue import publish_on_commit
from fleet.models import Attachment, Machine, MeterSegment, Organisation, Reading
from fleet.models.fields import HoursField
from fleet.models.machine import share_yards_and_types
from fleet.readings import attachment_hours
from fleet.readings.propagation import expect_differently
from fleet.usage.days import date_of
from servicing import duty_rows, projection, track
from servicing.applicable import Programs, rule_for, tasks_of
from servicing.duty_rows import Rows, hours_of
from servicing.models import Duty, ProgramVersion, Task
from servicing.open_marks import OpenMarks, bring_forward, open_marks, reworded
from servicing.planning.intervals import Mark, next_mark

CHUNK = 2000  # machines refreshed at a time
MOVED = (
    "active",
    *("mark_hours", "mark_on", "last_hours", "last_on", "met_hours", "met_on"),
    *("forward_hours", "forward_reason", "rule_hours", "put_off_until", "put_off_reason"),
    *("early", "likely", "late"),
)
SETTLE = timedelta(seconds=20)  # a machine waiting longer than this was missed by its own task


def refresh(*, machine_ids: Iterable[int], now: datetime | None = None, keep: bool = False) -> int:
    """Create, re-mark and project the duties of these machines; return how many duties changed.

    keep: what is said of each open hour mark is kept, to be held against what comes, see `track`.

    Needs the organisation's scope. Asks a constant number of queries for each 2,000 machines. A duty whose
    task no longer applies turns inactive and keeps its last work; in a new program version it moves to the
    task of the same code. Work recorded meanwhile is never overwritten: its machine waits for the next run.
    """
    now = now or timezone.now()
    ids = sorted(set(machine_ids))
    programs = Programs()
    chunks = (ids[start : start + CHUNK] for start in range(0, len(ids), CHUNK))
    return sum(_refresh(chunk, programs, now, keep) for chunk in chunks)


def refresh_all(*, now: datetime | None = None, keep: bool = False) -> int:
    """Refresh every machine in service of the organisation whose scope is open; keep: as for `refresh`."""
    ids = Machine.objects.in_service().values_list("pk", flat=True)
    return refresh(machine_ids=ids, now=now, keep=keep)


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


def hours_moved(organisation_id: int, machine_ids: list[int]) -> None:
    """Queue a refresh of machines; whoever moved their hours has set `projection_wanted_at` with them."""
    publish_on_commit(
        "servicing.tasks.project_machines",
        organisation_id=organisation_id,
        machine_ids=sorted(machine_ids),
    )


def want(machine_ids: Iterable[int]) -> None:
    """Ask for a refresh of machines whose program, condition or fitments changed or whose work was done.

    What hangs on them is refreshed too: its days ahead are theirs (`days_known`).
    """
    expect_differently(list(machine_ids))


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
    rows = duty_rows.read([machine.pk for machine in machines])
    asked = open_marks(machines, rows, tasks_of(ProgramVersion.objects.filter(pk=version.pk)))
    bring_forward(asked, machines, now)
    titles = dict(
        Task.objects.filter(
            Q(version=version) | Q(pk__in=set(rows["task"].astype(int).tolist()))
        ).values_list("pk", "title")
    )
    of = {machine.pk: machine for machine in machines}
    after = {int(at): place for place, at in enumerate(asked.row) if at >= 0}
    moves = [
        Move(
            of[int(rows["machine"][at])],
            titles[int(asked.task[place] if place is not None else rows["task"][at])],
            _mark(rows["mark_hours"][at], rows["mark_on"][at]),
            None if place is None else _mark(asked.hours[place], asked.on[place]),
        )
        for at in range(len(rows["id"]))
        for place in [after.get(at)]
    ]
    moves += [
        Move(
            of[int(asked.machine[at])],
            titles[int(asked.task[at])],
            None,
            _mark(asked.hours[at], asked.on[at]),
        )
        for at in np.flatnonzero(asked.row < 0).tolist()
    ]
    moved = [move for move in moves if move.before != move.after]
    return sorted(moved, key=lambda move: (move.machine.tag, move.is_ended, move.title))


def _mark(hours: float, on: float) -> Mark | None:
    mark = Mark(hours_of(hours), date_of(on))
    return None if mark == Mark() else mark


@dataclass(frozen=True)
class Done:
    """A duty's work, done at `hours` total hours of its machine on the yard's day `on`."""

    duty: Duty
    hours: Decimal
    on: date


def meet(*, duty: Duty, hours: Decimal, on: date) -> Duty:
    """The duty's work was done at `hours` total hours on the yard's day `on`: move its mark; return it.

    The next mark is counted from the rule's own, not from one that a drifting value had brought forward. A
    once-only task is finished. The projected days are emptied until the refresh that this asks for.
    """
    (met,) = meet_all([Done(duty, hours, on)])
    return met


@transaction.atomic
def meet_all(done: Sequence[Done]) -> list[Duty]:
    """Move the marks of all these duties, as `meet` does; asks a constant number of queries."""
    if not done:
        return []
    duties = (
        Duty.objects.select_for_update(of=("self",))
        .select_related("machine", "task__version")
        .prefetch_related("task__intervals", "machine__overrides")
        .order_by("pk")
        .in_bulk([each.duty.pk for each in done])
    )
    for each in done:
        _meet(duties[each.duty.pk], each.hours, each.on)
    Duty.objects.bulk_update(duties.values(), MOVED)
    want({duty.machine_id for duty in duties.values()})
    return list(duties.values())


def _meet(duty: Duty, hours: Decimal, on: date) -> None:
    duty.met_hours = duty.mark_hours if duty.forward_hours is None else duty.rule_hours
    duty.met_on = duty.mark_on
    duty.last_hours, duty.last_on = hours, on
    rule = rule_for(duty.task, duty.machine) if duty.active else None
    mark = next_mark(rule, Mark(duty.met_hours, duty.met_on), hours, on) if rule else None
    duty.active = mark is not None
    duty.mark_hours, duty.mark_on = (mark.hours, mark.on) if mark else (None, None)
    duty.forward_hours, duty.forward_reason, duty.rule_hours = None, "", None
    duty.early = duty.likely = duty.late = None
    duty.put_off_until, duty.put_off_reason = None, ""


@transaction.atomic
def put_off(*, duty: Duty, until: date, reason: str, on: date | None = None) -> Duty:
    """Leave a duty until a later day, saying why. Its mark stays: what is past is still shown as past.

    on: the yard's day on which that was decided, today when left out.
    """
    held = Duty.objects.select_for_update(of=("self",)).select_related("machine__yard__organisation")
    left = held.get(pk=duty.pk)
    if not reason.strip():
        raise FleetError("Say why it is left.", field="reason")
    if until <= (on or left.machine.today()):
        raise FleetError("Choose a day after today.", field="put_off_until")
    left.put_off_until, left.put_off_reason = until, reason.strip()
    left.save(update_fields=["put_off_until", "put_off_reason"])
    return left


def _by_organisation(rows: Iterable[tuple[int, int]]) -> Iterator[tuple[int, list[int]]]:
    for organisation, group in groupby(sorted(rows), key=itemgetter(0)):
        yield organisation, [pk for _, pk in group]


def _refresh(ids: Sequence[int], programs: Programs, now: datetime, keep: bool) -> int:
    wanted = dict(
        Machine.objects.awaiting_projection().filter(pk__in=ids).values_list("pk", "projection_wanted_at")
    )
    machines = _machines(ids)
    written, overtaken = 0, set[int]()
    if machines:
        rows = duty_rows.read([machine.pk for machine in machines])
        asked = open_marks(machines, rows, programs.of(machine.type_id for machine in machines))
        reasons = bring_forward(asked, machines, now)
        days = np.full((len(asked.row), 3), np.nan)
        held = ~(np.isnan(asked.hours) & np.isnan(asked.on))
        if held.any():
            learned = projection.learn(machines, now=now)
            marks = projection.Marks(asked.machine[held], asked.hours[held], asked.on[held])
            days[held], said = projection.project(learned, marks, correction=track.correction())
            if keep:
                track.keep(marks, said, learned, now=now)
        written, overtaken = _store(rows, asked, days, reasons, machines[0].organisation_id, now)
    _settle({pk: moment for pk, moment in wanted.items() if pk not in overtaken})
    return written


def _store(
    rows: Rows,
    asked: OpenMarks,
    days: np.ndarray,
    reasons: Mapping[tuple[int, int], str],
    organisation_id: int,
    now: datetime,
) -> tuple[int, set[int]]:
    """Write what is new or has changed; return how many duties, and the machines that work has overtaken."""
    set_ = dict(asked.settable(), **dict(zip(duty_rows.DAYS, days.T, strict=True)))
    after = {name: np.full(len(rows["id"]), np.nan) for name in duty_rows.SETTABLE}
    after |= {"id": rows["id"], "machine": rows["machine"], "task": rows["task"].copy()}
    after["active"] = np.zeros(len(rows["id"]))
    there = asked.row >= 0
    for name, values in set_.items():
        after[name][asked.row[there]] = values[there]
    changed = duty_rows.differing(rows, after)
    changed |= reworded(rows, after, reasons)
    made = ~there
    return duty_rows.write(
        created={"machine": asked.machine[made].astype(float)} | {k: v[made] for k, v in set_.items()},
        changed={name: values[changed] for name, values in after.items()},
        before={name: values[changed] for name, values in rows.items()},
        reasons=reasons,
        organisation_id=organisation_id,
        now=now,
    )


def _machines(ids: Sequence[int]) -> list[Machine]:
    """The machines in service, each with when it came under its program and the hours it then had."""
    program = ProgramVersion.objects.filter(program__machine_type=OuterRef("type")).order_by("number")
    meter = MeterSegment.objects.filter(machine=OuterRef("pk")).order_by("started_at", "pk")
    reading = Reading.history(machine=OuterRef("pk"), taken_at__lte=OuterRef("program_from"))
    hours_here = Subquery(
        meter.annotate(total=F("shows_at_start") + F("offset")).values("total")[:1], output_field=HoursField()
    )
    machines = list(
        Machine.objects.in_service()
        .filter(pk__in=ids)
        .prefetch_related(Prefetch("fitments", to_attr="fitted"), Prefetch("overrides", to_attr="departs"))
        .annotate(program_from=Subquery(program.values("made_at")[:1]))
        .annotate(
            hours_here=Coalesce(hours_here, Decimal(0), output_field=HoursField()),
            hours_then=Subquery(reading.latest_first().values("hours")[:1]),
        )
        .annotate(hours_at_start=Greatest("hours_here", Coalesce("hours_then", "hours_here")))
    )
    share_yards_and_types(machines)
    _start_attachments({machine.pk: machine for machine in machines if machine.is_attachment})
    return machines


def _start_attachments(attachments: Mapping[int, Machine]) -> None:
    """Set the hours at which these came under their program: the last known then; three queries."""
    if attachments:
        for pk, hours in Attachment.objects.filter(pk__in=attachments).values_list("pk", "hours_before"):
            attachments[pk].hours_at_start = hours
        for point in attachment_hours.histories(attachments, until=timezone.now()):
            machine = attachments[point.attachment]
            if machine.program_from and point.at <= machine.program_from:
                machine.hours_at_start = point.hours


def _settle(wanted: dict[int, datetime]) -> None:
    """Note that these machines are projected, unless something moved since they were read."""
    if not wanted:
        return
    with transaction.atomic():
        locked = Machine.objects.select_for_update().filter(pk__in=wanted).order_by("pk")
        same = [pk for pk, at in locked.values_list("pk", "projection_wanted_at") if at == wanted[pk]]
        Machine.objects.filter(pk__in=same).update(projection_wanted_at=None)
