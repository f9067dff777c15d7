"""A try at putting entries on an order: all of them or none, but what can hurt somebody is kept.

Of entries that are refused is also kept that they were refused, and why.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy
from django_scopes import scope

from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.models import Member
from fleet.readings.propagation import told_together
from servicing.measurements import retest
from servicing.models import CheckResult, Line, RefusedEntries, WorkOrder
from servicing.workorders.conflicts import differing
from servicing.workorders.entries import Entries
from servicing.workorders.errors import NotReady, OrderMoved, Path, Problem, Undecided
from servicing.workorders.judging import Judged, read_check
from servicing.workorders.locking import WORK, State, locked, move, take_up

ENDED = (State.CLOSED, State.CANCELLED)
PLACES = {
    "hours": _("Hours"),
    "hours_confirmed": _("Hours"),
    "parts": _("Parts"),
    "further": _("Parts"),
    "labour": _("Time spent"),
    "helper": _("Time spent"),
}
FIELDS = {
    "outcome": pgettext_lazy("field of an order", "outcome"),
    "reason": pgettext_lazy("field of an order", "why it is deferred or referred"),
    "deferred_until": pgettext_lazy("field of an order", "deferred until"),
    "note": pgettext_lazy("field of an order", "note"),
    "found": _("as found"),
    "left": _("as left"),
}


def tried(
    process: Callable[[WorkOrder], WorkOrder],
    *,
    order: WorkOrder,
    member: Member,
    revision: int,
    entries: Entries,
    now: datetime,
    state: str = State.STARTED,
) -> WorkOrder:
    """Run a process on an order in that state; a refused one is undone, but keeps what nobody may lose.

    Raises Undecided where the entries leave open which of two values stands; OrderMoved then and otherwise
    says where they differ from the record.
    """
    require(member, "work_orders", WORK, order)
    with scope(organisation=member.organisation), transaction.atomic():
        try:
            with transaction.atomic(), told_together():
                taken = take_up(order, revision, state)
                if entries.undecided:
                    raise Undecided(entries.undecided, revision=taken.revision)
                done = process(taken)
        except FleetError as error:
            _keep_of(order=order, member=member, entries=entries, error=error, now=now)
            if isinstance(error, OrderMoved):
                error.differing = differing(order, entries)
            refusal = error
        else:
            RefusedEntries.objects.filter(order=order, member=member).delete()
            return done
    raise refusal


def refuse(
    *, order: WorkOrder, member: Member, entries: Entries, why: str, now: datetime | None = None
) -> None:
    """Refuse entries that nothing could be made of as a whole, as those of a request that can't be read.

    A safety check that can be read and fails tags its machine out all the same. why: a sentence for whoever
    plans the work. Raises NotAllowed.
    """
    require(member, "work_orders", WORK, order)
    with scope(organisation=member.organisation), transaction.atomic():
        _keep_of(
            order=order, member=member, entries=entries, error=FleetError(why), now=now or timezone.now()
        )


def _keep_of(*, order: WorkOrder, member: Member, entries: Entries, error: FleetError, now: datetime) -> None:
    """Keep of refused entries what keeps a machine from use, and that they were refused.

    Where only something else was missing or wrong, the record of an open order takes these values too, under
    the next revision, which `error` then names. Where the order had moved on, or the whole couldn't be read,
    the record stays as it is, and a check that failed is kept beside it. A safety check that failed
    tags its machine out at once; another that may does so at the order's end, or now where that has been.
    """
    order = locked(order)
    results = _grave(order, entries)
    stale = not isinstance(error, NotReady)
    retest.note(
        order=order,
        failed=[
            result for result in results if result.passes is False and (result.safety or order.state in ENDED)
        ],
        member=member,
        now=now,
        stale=stale,
    )
    if isinstance(error, NotReady):
        if order.is_open and _record(order, results, member, now):
            move(order)
        error.revision = order.revision
    problems: Sequence[Problem] = (Problem((), error.sentence),)
    if isinstance(error, NotReady | Undecided):
        problems = error.problems
    told = {"problems": _told(order, problems)}
    RefusedEntries.objects.update_or_create(
        order=order,
        member=member,
        defaults=told,
        create_defaults={"organisation_id": order.organisation_id, "since": now, **told},
    )


def _grave(order: WorkOrder, entries: Entries) -> list[CheckResult]:
    """Return what can be read of the checks that keep a machine from use, whatever else is wrong.

    Each entry is read on its own. A check that was entered twice is here twice; where one of its two values
    can't be read, the other counts if it says how the check was found or that it fails.
    """
    lines = order.lines.select_related("task", "duty__machine").prefetch_related("task__checks")
    checks = {(line.pk, c.pk): (line, c) for line in lines if line.task for c in line.task.checks.all()}
    unread = Judged(entries)
    found = []
    for entry in entries.lines:
        for row in entry.checks:
            if (entry.line, row.check) not in checks:
                continue
            result = read_check(unread, *checks[entry.line, row.check], row, ())
            says = result and (result.found_passes is not None or result.passes is False)
            if result and says and retest.is_grave(result.check_made):
                found.append(result)
    return found


def _record(order: WorkOrder, results: Sequence[CheckResult], member: Member, now: datetime) -> bool:
    """Put results into the order's record, the failed one where a check has two; whether any is new."""
    by_check = {
        (result.line_id, result.check_made_id): result
        for result in sorted(results, key=lambda result: result.passes is False)
    }
    stored = {(old.line_id, old.check_made_id): old for old in CheckResult.objects.filter(line__order=order)}
    new = [
        result for key, result in by_check.items() if key not in stored or stored[key].values != result.values
    ]
    for result in new:
        result.recorded_by, result.recorded_at = member, now
    replaced = [(result.line_id, result.check_made_id) for result in new]
    CheckResult.objects.filter(pk__in=[stored[key].pk for key in replaced if key in stored]).delete()
    CheckResult.objects.bulk_create(new)
    return bool(new)


def _told(order: WorkOrder, problems: Sequence[Problem]) -> list[dict[str, str]]:
    """Return the problems in words, one for each place."""
    lines = {line.pk: line for line in order.lines.select_related("task").prefetch_related("task__checks")}
    told: dict[Path, dict[str, str]] = {}
    for problem in problems:
        told.setdefault(problem.path, {"at": _place(problem.path, lines), "why": problem.sentence})
    return list(told.values())


def _place(path: Path, lines: Mapping[Any, Line]) -> str:
    kind = path[0] if path else ""
    if kind == "lines" and len(path) > 1 and path[1] in lines:
        line = lines[path[1]]
        checks: dict[str | int, str] = (
            {check.pk: check.label for check in line.task.checks.all()} if line.task else {}
        )
        check = checks.get(path[3], "") if len(path) > 3 else ""
        what = str(FIELDS.get(str(path[-1]), ""))
        return ": ".join(filter(None, [line.title, ", ".join(filter(None, [check, what]))]))
    return str(PLACES.get(str(kind), ""))
