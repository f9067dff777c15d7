"""Duties: which task of which machine falls due at which mark, and on which day that is likely to be.

A duty's open mark follows from its rule, its last work and the values measured on its machine, so
`refresh_duties` works it out each time: a changed condition, fitment or program version needs no special
case, and refreshing twice changes nothing. Where a value will reach its limit before the rule's hour mark,
the mark is that earlier one; `rule_hours` then keeps the rule's.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import groupby
from operator import itemgetter

import numpy as np
from django.db import transaction
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from fleet.core.queue import publish_on_commit
from fleet.models import Machine, Organisation
from servicing.duties import accuracy, duty_table, projection
from servicing.duties.applicability import Programs
from servicing.duties.duty_table import Rows
from servicing.duties.machines import read_machines
from servicing.duties.next_due import OpenMarks, bring_forward, open_marks, reworded

CHUNK = 2000  # machines refreshed at a time
SETTLE = timedelta(seconds=20)  # a machine waiting longer than this was missed by its own task


def refresh_duties(*, machine_ids: Iterable[int], now: datetime | None = None, keep: bool = False) -> int:
    """Create, re-mark and project the duties of these machines; return how many duties changed.

    keep: what is said of each open hour mark is kept, to be held against what comes, see `accuracy`.

    Needs the organisation's scope. Asks a constant number of queries for each 2,000 machines. A duty whose
    task no longer applies turns inactive and keeps its last work; in a new program version it moves to the
    task of the same code. Work recorded meanwhile is never overwritten: its machine waits for the next run.
    """
    now = now or timezone.now()
    ids = sorted(set(machine_ids))
    programs = Programs()
    chunks = (ids[start : start + CHUNK] for start in range(0, len(ids), CHUNK))
    return sum(_refresh(chunk, programs, now, keep) for chunk in chunks)


def refresh_all_duties(*, now: datetime | None = None, keep: bool = False) -> int:
    """Refresh every machine in service of the organisation whose scope is open; keep: as above."""
    ids = Machine.objects.in_service().values_list("pk", flat=True)
    return refresh_duties(machine_ids=ids, now=now, keep=keep)


def refresh_awaiting(*, machine_ids: Collection[int], now: datetime | None = None) -> int:
    """Refresh those of these machines that still wait for it: a task delivered twice works once."""
    waiting = Machine.objects.awaiting_projection().filter(pk__in=machine_ids)
    return refresh_duties(machine_ids=waiting.values_list("pk", flat=True), now=now)


def sweep_awaiting(*, now: datetime | None = None) -> int:
    """Refresh, in every organisation, the machines that no task has come for; return how many there were.

    A machine is claimed by a new stamp, so that two sweeps at once share the work; one whose sweep dies
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
            refresh_duties(machine_ids=ids, now=now)
    return len(claimed)


def queue_refresh(organisation_id: int, machine_ids: list[int]) -> None:
    """Queue a refresh of machines; whoever moved their hours has set `projection_wanted_at` with them."""
    publish_on_commit(
        "servicing.tasks.project_machines",
        organisation_id=organisation_id,
        machine_ids=sorted(machine_ids),
    )


def _by_organisation(rows: Iterable[tuple[int, int]]) -> Iterator[tuple[int, list[int]]]:
    for organisation, group in groupby(sorted(rows), key=itemgetter(0)):
        yield organisation, [pk for _, pk in group]


def _refresh(ids: Sequence[int], programs: Programs, now: datetime, keep: bool) -> int:
    wanted = dict(
        Machine.objects.awaiting_projection().filter(pk__in=ids).values_list("pk", "projection_wanted_at")
    )
    machines = read_machines(ids)
    written, overtaken = 0, set[int]()
    if machines:
        rows = duty_table.read([machine.pk for machine in machines])
        asked = open_marks(machines, rows, programs.of(machine.type_id for machine in machines))
        reasons = bring_forward(asked, machines, now)
        days = np.full((len(asked.row), 3), np.nan)
        held = ~(np.isnan(asked.hours) & np.isnan(asked.on))
        if held.any():
            learned = projection.learn(machines, now=now)
            marks = projection.Marks(asked.machine[held], asked.hours[held], asked.on[held])
            days[held], said = projection.project(learned, marks, correction=accuracy.correction())
            if keep:
                accuracy.keep(marks, said, learned, now=now)
        written, overtaken = _store(rows, asked, days, reasons, machines[0].organisation_id, now)
    _note_projected({pk: moment for pk, moment in wanted.items() if pk not in overtaken})
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
    set_ = dict(asked.settable(), **dict(zip(duty_table.DAYS, days.T, strict=True)))
    after = {name: np.full(len(rows["id"]), np.nan) for name in duty_table.SETTABLE}
    after |= {"id": rows["id"], "machine": rows["machine"], "task": rows["task"].copy()}
    after["active"] = np.zeros(len(rows["id"]))
    there = asked.row >= 0
    for name, values in set_.items():
        after[name][asked.row[there]] = values[there]
    changed = duty_table.differing(rows, after)
    changed |= reworded(rows, after, reasons)
    made = ~there
    return duty_table.write(
        created={"machine": asked.machine[made].astype(float)} | {k: v[made] for k, v in set_.items()},
        changed={name: values[changed] for name, values in after.items()},
        before={name: values[changed] for name, values in rows.items()},
        reasons=reasons,
        organisation_id=organisation_id,
        now=now,
    )


def _note_projected(wanted: dict[int, datetime]) -> None:
    """Note that these machines are projected, unless something moved since they were read."""
    if not wanted:
        return
    with transaction.atomic():
        locked = Machine.objects.select_for_update().filter(pk__in=wanted).order_by("pk")
        same = [pk for pk, at in locked.values_list("pk", "projection_wanted_at") if at == wanted[pk]]
        Machine.objects.filter(pk__in=same).update(projection_wanted_at=None)
