"""What a technician enters for an order: read, judged against the limits, and kept.

`workorders.record` keeps it while the work goes on, `workorders.close` asks for all of it.
Nothing here begins a transaction or changes the state of an order.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from functools import reduce
from typing import Any, TypeVar

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.core.errors import FleetError
from fleet.models import Member
from servicing.measurements import limits, retest
from servicing.models import Check, CheckResult, Labour, Line, Part, PartUsed, Task, Technician, WorkOrder
from servicing.workorders.entries import CheckEntry, Entries, LineEntry
from servicing.workorders.errors import Path, Problem

Row = TypeVar("Row")
OUTCOMES = frozenset(Line.Outcome.values)
COPIED = ("kind", "label", "safety", "unit", "lower", "upper", "target", "choices")
SENTENCES: dict[str, Any] = {
    **limits.SENTENCES,
    "outcome": _("Choose an outcome."),
    "why_deferred": _("Say why it is deferred."),
    "until": _("Say until which day it is deferred."),
    "until_later": _("Choose a day after today."),
    "why_referred": _("Say what the dealer or licensed shop should look at."),
    "found": _("Enter what you found."),
    "found_first": _("Enter what you found before you changed it."),
    "left": _("Out of limits as found: enter what it was left at, or choose Deferred or Referred."),
    "hours": _("Enter what the hour meter shows."),
    "part": _("Choose the part."),
    "quantity": _("Enter how much was used."),
    "technician": _("Choose a person."),
    "worked": _("Enter the minutes."),
    "still_out": _("Still out of limits: adjust it, or choose Deferred or Referred."),
}
"""What is missing, in words; a phone without signal says the same."""


def rules() -> dict[str, Any]:
    """Return by what entries are judged besides the limits of each check, as data for a phone without signal.

    The sentences are in the reader's language; their places stay for the phone to fill in.
    """
    sentences = {name: str(sentence) for name, sentence in SENTENCES.items()}
    return {**limits.rules(), "meets_the_mark": Line.MEETS_THE_MARK, "sentences": sentences}


@dataclass
class Judged:
    """Entries that have been read: what to keep, what is wrong. `finished`: the order closes with them."""

    entries: Entries
    lines: list[tuple[Line, LineEntry]] = field(default_factory=list)
    results: list[CheckResult] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    finished: bool = False
    parts: dict[Part, Decimal] = field(default_factory=dict)
    labour: dict[Technician, int] = field(default_factory=dict)

    def wrong(self, sentence: str | Promise, *path: str | int) -> None:
        """Note a problem at that place."""
        self.problems.append(Problem(path, str(sentence)))


def judge(
    *, order: WorkOrder, entries: Entries, today: date, finished: bool, hours_asked: bool = True
) -> Judged:
    """Read and judge the entries of an order; nothing is raised and nothing saved.

    With `finished`, every line needs an outcome, and every check of a line done or adjusted its values.
    Without, only what can't be kept at all is a problem. Without `hours_asked` the meter's figure may be
    missing.
    """
    judged = Judged(entries, problems=list(entries.unread), finished=finished)
    _match_people_and_parts(judged)
    licensed = {t for t in [order.technician, *judged.labour] if t is not None and t.licensed}
    given = _once([(entry.line, entry) for entry in entries.lines], ("lines",), judged)
    for line in order.lines.select_related("task", "duty__machine").prefetch_related(
        "task__checks", "task__needs"
    ):
        entry = given.pop(line.pk, LineEntry(line.pk))
        judged.lines.append((line, entry))
        _judge_outcome(judged, line, entry, today, finished)
        if finished and not licensed and _was_licensed_work(line, entry):
            judged.wrong(
                gettext(
                    "This is work for a licensed technician: choose Referred, or enter the minutes of one."
                ),
                *("lines", line.pk, "outcome"),
            )
        _judge_checks(judged, line, entry, finished)
    for unknown in given:
        judged.wrong(gettext("This line doesn't belong to the order."), "lines", unknown, "line")
    if finished and hours_asked and entries.hours is None:
        judged.wrong(SENTENCES["hours"], "hours")
    return judged


def keep(*, order: WorkOrder, judged: Judged, member: Member, now: datetime) -> None:
    """Save outcomes, values, parts and labour of entries without problems, in the caller's transaction.

    A safety check that fails with them tags its machine out; once the order closes with them, so does any
    check that fails where its task says so. What a closed order used keeps the price it had then.
    """
    failed = [
        result
        for result in judged.results
        if result.passes is False
        and (result.safety or (judged.finished and retest.is_grave(result.check_made)))
    ]
    retest.note(order=order, failed=failed, member=member, now=now)
    closed = order.state == WorkOrder.State.CLOSED
    costs = dict(order.parts.values_list("part_id", "unit_cost")) if closed else {}
    rates = dict(order.labour.values_list("technician_id", "hourly_rate")) if closed else {}
    for line, entry in judged.lines:
        before = (line.outcome, line.reason, line.note, line.deferred_until)
        line.outcome, line.reason, line.note = entry.outcome, entry.reason.strip(), entry.note.strip()
        line.deferred_until = entry.deferred_until if entry.outcome == Line.Outcome.DEFERRED else None
        if (line.outcome, line.reason, line.note, line.deferred_until) != before:
            line.recorded_by, line.recorded_at = member, now
    Line.objects.bulk_update(
        [line for line, _entry in judged.lines],
        ["outcome", "reason", "note", "deferred_until", "recorded_by", "recorded_at"],
    )
    _keep_results(order, judged.results, member, now)
    order.parts.all().delete()
    PartUsed.objects.bulk_create(
        PartUsed(
            organisation_id=order.organisation_id,
            order=order,
            part=part,
            quantity=quantity,
            unit_cost=costs.get(part.pk, part.unit_cost),
        )
        for part, quantity in judged.parts.items()
    )
    order.labour.all().delete()
    Labour.objects.bulk_create(
        Labour(
            organisation_id=order.organisation_id,
            order=order,
            technician=technician,
            minutes=minutes,
            hourly_rate=rates.get(technician.pk, technician.hourly_rate),
        )
        for technician, minutes in judged.labour.items()
    )


def _judge_outcome(judged: Judged, line: Line, entry: LineEntry, today: date, finished: bool) -> None:
    where = ("lines", line.pk)
    if entry.outcome and entry.outcome not in OUTCOMES:
        known = gettext("Choose one of: {words}.").format(words=", ".join(Line.Outcome.values))
        judged.wrong(known, *where, "outcome")
    elif finished and not entry.outcome:
        judged.wrong(SENTENCES["outcome"], *where, "outcome")
    if entry.outcome == Line.Outcome.DEFERRED:
        if not entry.reason.strip():
            judged.wrong(SENTENCES["why_deferred"], *where, "reason")
        if entry.deferred_until is None:
            judged.wrong(SENTENCES["until"], *where, "deferred_until")
        elif entry.deferred_until <= today:
            judged.wrong(SENTENCES["until_later"], *where, "deferred_until")
    if entry.outcome == Line.Outcome.REFERRED and not entry.reason.strip():
        judged.wrong(SENTENCES["why_referred"], *where, "reason")
    if finished and entry.outcome == Line.Outcome.NOT_FITTED and (why := why_not_unfitted(line)):
        judged.wrong(why, *where, "outcome")


def why_not_unfitted(line: Line) -> str:
    """Return why a line can't end as "not fitted"; "" where it can."""
    needs = [str(fitment) for fitment in line.task.needs.all()] if line.task else []
    if len(needs) > 1:
        fitted = reduce(lambda one, other: gettext("{one} and {other}").format(one=one, other=other), needs)
        return gettext(
            "This is for machines with {fitments}. Choose Deferred, and have the manager correct "
            "what the machine is fitted with."
        ).format(fitments=fitted)
    return "" if needs else gettext("Every machine of this type has this; choose Deferred or Referred.")


def _was_licensed_work(line: Line, entry: LineEntry) -> bool:
    if line.task is None or line.task.skill != Task.Skill.LICENSED:
        return False
    return entry.outcome in Line.MEETS_THE_MARK


def _judge_checks(judged: Judged, line: Line, entry: LineEntry, finished: bool) -> None:
    given = _once([(row.check, row) for row in entry.checks], ("lines", line.pk, "checks"), judged)
    demanded = finished and entry.outcome in Line.MEETS_THE_MARK
    task = line.task
    for check in task.checks.all() if task else ():
        row = given.pop(check.pk, CheckEntry(check.pk))
        where = ("lines", line.pk, "checks", check.pk)
        before = len(judged.problems)
        result = read_check(judged, line, check, row, where)
        if len(judged.problems) > before:
            continue
        if result is None:
            if demanded:
                judged.wrong(SENTENCES["found"], *where, "found")
            continue
        judged.results.append(result)
        if result.found_passes is None and finished:
            judged.wrong(SENTENCES["found_first"], *where, "found")
        elif demanded and result.found_passes is False and result.left_passes is None:
            judged.wrong(SENTENCES["left"], *where, "left")
        elif demanded and result.passes is False and not retest.is_grave(check):
            judged.wrong(SENTENCES["still_out"], *where, "left")
    for unknown in given:
        stray = gettext("This check doesn't belong to the line.")
        judged.wrong(stray, "lines", line.pk, "checks", unknown, "check")


def read_check(judged: Judged, line: Line, check: Check, row: CheckEntry, where: Path) -> CheckResult | None:
    """Return the check's result as typed and judged; None when nothing was entered.

    A value that can't be read is a problem, and left out of the result.
    """
    if not row.found.strip() and not row.left.strip():
        return None
    result = CheckResult(
        organisation_id=line.organisation_id,
        line=line,
        check_made=check,
        **{name: getattr(check, name) for name in COPIED},
    )
    for moment, typed, unit in (("found", row.found, row.found_unit), ("left", row.left, row.left_unit)):
        if typed.strip():
            try:
                value = limits.Rule.of(check).read(typed, unit)
            except FleetError as error:
                judged.wrong(error.sentence, *where, moment)
            else:
                setattr(result, f"{moment}_value", value.number)
                setattr(result, f"{moment}_unit", value.unit)
                setattr(result, f"{moment}_word", value.word)
                setattr(result, f"{moment}_passes", value.passes)
    return result


def _match_people_and_parts(judged: Judged) -> None:
    wanted = [row.part for row in judged.entries.parts]
    parts = Part.objects.in_bulk(set(wanted))
    for row in judged.entries.parts:
        if row.part not in parts:
            judged.wrong(gettext("No such part; choose another."), "parts", row.part, "part")
        elif row.quantity <= 0:
            judged.wrong(
                gettext("Enter how much was used, or leave the part out."), "parts", row.part, "quantity"
            )
        elif row.quantity != round(row.quantity, 2) or row.quantity >= 10**7:
            judged.wrong(
                gettext("Write the quantity with at most two decimals."), "parts", row.part, "quantity"
            )
        else:
            part = parts[row.part]
            judged.parts[part] = judged.parts.get(part, Decimal(0)) + row.quantity
    people = Technician.objects.select_related("member__user").in_bulk(
        {row.technician for row in judged.entries.labour}
    )
    for spent in judged.entries.labour:
        if spent.technician not in people:
            judged.wrong(
                gettext("No such technician; choose another."), "labour", spent.technician, "technician"
            )
        elif not 0 < spent.minutes <= 100_000:
            judged.wrong(gettext("Enter the minutes spent."), "labour", spent.technician, "minutes")
        else:
            person = people[spent.technician]
            judged.labour[person] = judged.labour.get(person, 0) + spent.minutes


def _once(rows: Sequence[tuple[int, Row]], where: Path, judged: Judged) -> dict[int, Row]:
    given: dict[int, Row] = {}
    for key, row in rows:
        if key in given:
            judged.wrong(gettext("This is entered twice; remove one."), *where, key)
        given[key] = row
    return given


def _keep_results(order: WorkOrder, results: Sequence[CheckResult], member: Member, now: datetime) -> None:
    """Replace what changed. A value that stays as it was keeps the name of the one who recorded it.

    A check that keeps the machine from use and failed isn't emptied: it takes another value to correct it.
    """
    stored = {
        (result.line_id, result.check_made_id): result
        for result in CheckResult.objects.filter(line__order=order).select_related("check_made__task")
    }
    for result in results:
        old = stored.pop((result.line_id, result.check_made_id), None)
        if old and old.values == result.values:
            result.recorded_by_id, result.recorded_at = old.recorded_by_id, old.recorded_at
        else:
            result.recorded_by, result.recorded_at = member, now
    stay = [old.pk for old in stored.values() if old.passes is False and retest.is_grave(old.check_made)]
    CheckResult.objects.filter(line__order=order).exclude(pk__in=stay).delete()
    CheckResult.objects.bulk_create(results)
