"""What a technician enters for an order: read, judged against the limits, and kept.

`workorders.record` keeps it while the work goes on, `workorders.close` asks for all of it.
Nothing here begins a transaction or changes the state of an order.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import TypeVar

from fleet.errors import FleetError
from fleet.models import Machine, Member
from servicing import limits
from servicing.models import Check, CheckResult, Labour, Line, Part, PartUsed, Task, Technician, WorkOrder
from servicing.orders.refusals import Path, Problem

Row = TypeVar("Row")
OUTCOMES = frozenset(Line.Outcome.values)
COPIED = ("kind", "label", "safety", "unit", "lower", "upper", "target", "choices")
VALUES = ("found_value", "found_unit", "found_word", "left_value", "left_unit", "left_word")


@dataclass(frozen=True)
class CheckEntry:
    """One check as typed. A number is text, kept with every digit; a blank unit is the limit's."""

    check: int
    found: str = ""
    found_unit: str = ""
    left: str = ""
    left_unit: str = ""


@dataclass(frozen=True)
class LineEntry:
    """What came of one line. `reason`: why it was left, or what the dealer is to look at."""

    line: int
    outcome: str = ""
    reason: str = ""
    put_off_until: date | None = None
    note: str = ""
    checks: Sequence[CheckEntry] = ()


@dataclass(frozen=True)
class PartEntry:
    """How much of a part was used, in the part's unit."""

    part: int
    quantity: Decimal


@dataclass(frozen=True)
class LabourEntry:
    """Whole minutes that one technician spent."""

    technician: int
    minutes: int


@dataclass(frozen=True)
class Entries:
    """All that is entered for an order.

    `hours`: what the hour meter shows. `hours_confirmed`: the meter was read again and does show that,
    however unlikely it looks; the reading then waits for a person to decide. `finished_at`: when the work was
    finished, where the entries had to wait for a line; None: now.
    """

    lines: Sequence[LineEntry] = ()
    parts: Sequence[PartEntry] = ()
    labour: Sequence[LabourEntry] = ()
    hours: Decimal | None = None
    hours_confirmed: bool = False
    finished_at: datetime | None = None


@dataclass
class Judged:
    """Entries that have been read: what to keep, what is wrong, and which machine is tagged out for what."""

    entries: Entries
    lines: list[tuple[Line, LineEntry]] = field(default_factory=list)
    results: list[CheckResult] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    tag_out_for: list[tuple[Machine, str]] = field(default_factory=list)
    parts: dict[Part, Decimal] = field(default_factory=dict)
    labour: dict[Technician, int] = field(default_factory=dict)

    def wrong(self, sentence: str, *path: str | int) -> None:
        """Note a problem at that place."""
        self.problems.append(Problem(path, sentence))


def judge(*, order: WorkOrder, entries: Entries, today: date, finished: bool) -> Judged:
    """Read and judge the entries of an order; nothing is raised and nothing saved.

    With `finished`, every line needs an outcome, and every check of a line done or adjusted its values.
    Without, only what can't be kept at all is a problem.
    """
    judged = Judged(entries)
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
                "This is work for a licensed technician: choose Referred, or enter the minutes of one.",
                *("lines", line.pk, "outcome"),
            )
        _judge_checks(judged, line, entry, finished)
    for unknown in given:
        judged.wrong("This line doesn't belong to the order.", "lines", unknown, "line")
    if finished and entries.hours is None:
        judged.wrong("Enter what the hour meter shows.", "hours")
    return judged


def keep(*, order: WorkOrder, judged: Judged, member: Member, now: datetime) -> None:
    """Save outcomes, values, parts and labour of entries without problems, in the caller's transaction.

    A safety check that fails with them, and didn't before, joins what its machine is tagged out for.
    """
    for line, entry in judged.lines:
        line.outcome, line.reason, line.note = entry.outcome, entry.reason.strip(), entry.note.strip()
        line.put_off_until = entry.put_off_until if entry.outcome == Line.Outcome.LEFT else None
    Line.objects.bulk_update(
        [line for line, _ in judged.lines], ["outcome", "reason", "note", "put_off_until"]
    )
    judged.tag_out_for += _keep_results(order, judged.results, member, now)
    order.parts.all().delete()
    PartUsed.objects.bulk_create(
        PartUsed(
            organisation_id=order.organisation_id,
            order=order,
            part=part,
            quantity=quantity,
            unit_cost=part.unit_cost,
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
            hourly_rate=technician.hourly_rate,
        )
        for technician, minutes in judged.labour.items()
    )


def _judge_outcome(judged: Judged, line: Line, entry: LineEntry, today: date, finished: bool) -> None:
    where = ("lines", line.pk)
    if entry.outcome and entry.outcome not in OUTCOMES:
        judged.wrong(f"Choose one of: {', '.join(Line.Outcome.values)}.", *where, "outcome")
    elif finished and not entry.outcome:
        judged.wrong("Choose what came of it.", *where, "outcome")
    if entry.outcome == Line.Outcome.LEFT:
        if not entry.reason.strip():
            judged.wrong("Say why it was left.", *where, "reason")
        if entry.put_off_until is None:
            judged.wrong("Name the day it is put off until.", *where, "put_off_until")
        elif entry.put_off_until <= today:
            judged.wrong("Name a day after today.", *where, "put_off_until")
    if entry.outcome == Line.Outcome.REFERRED and not entry.reason.strip():
        judged.wrong("Say what the dealer or licensed shop is to look at.", *where, "reason")

    if finished and entry.outcome == Line.Outcome.NOT_FITTED:
        needs = [str(fitment) for fitment in line.task.needs.all()] if line.task else []
        if len(needs) > 1:
            judged.wrong(
                f"This is for machines with {' and '.join(needs)}. Choose Left, and have the manager correct "
                "what the machine is fitted with.",
                *(*where, "outcome"),
            )
        elif not needs:
            judged.wrong("Every machine of this type has this; choose Left or Referred.", *where, "outcome")


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
        result = _read(judged, line, check, row, where)
        if len(judged.problems) > before:
            continue
        if result is None:
            if demanded:
                judged.wrong("Enter what you found.", *where, "found")
            continue
        judged.results.append(result)
        if result.found_passes is None and finished:
            judged.wrong("Enter what you found before you changed it.", *where, "found")
        elif demanded and result.found_passes is False and result.left_passes is None:
            judged.wrong(
                "Out of limits as found: enter what it was left at, or choose Left or Referred.",
                *where,
                "left",
            )
        elif finished and result.passes is False:
            if check.task.outside == Task.Outside.TAG_OUT and not check.safety:
                judged.tag_out_for.append((line.machine, _failed(result)))
            elif demanded and not check.safety:
                judged.wrong("Still out of limits: adjust it, or choose Left or Referred.", *where, "left")
    for unknown in given:
        judged.wrong("This check doesn't belong to the line.", "lines", line.pk, "checks", unknown, "check")


def _read(judged: Judged, line: Line, check: Check, row: CheckEntry, where: Path) -> CheckResult | None:
    """Return the check's result as typed and judged; None when nothing was entered."""
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
                _judge_value(result, check, moment, typed.strip(), unit)
            except FleetError as error:
                judged.wrong(error.sentence, *where, moment)
    return result


def _judge_value(result: CheckResult, check: Check, moment: str, typed: str, unit: str) -> None:
    if check.is_numeric:
        value, unit = limits.number(typed), limits.spelled(unit or check.unit)
        passes = limits.within(value, unit, lower=check.lower, upper=check.upper, limit_unit=check.unit)
        setattr(result, f"{moment}_value", value)
        setattr(result, f"{moment}_unit", unit)
    else:
        try:
            passes = limits.word_passes(typed, check.choices)
        except KeyError:
            said = ", ".join(choice["value"] for choice in limits.words(check.choices))
            raise FleetError(f"Choose one of: {said}.") from None
        setattr(result, f"{moment}_word", typed)
    setattr(result, f"{moment}_passes", passes)


def _failed(result: CheckResult) -> str:
    allowed = limits.said(result.lower, result.upper, result.unit)
    value = result.as_left or result.as_found
    return f"{result.label}: {value} (limit {allowed})" if allowed else f"{result.label}: {value}"


def _match_people_and_parts(judged: Judged) -> None:
    wanted = [row.part for row in judged.entries.parts]
    parts = Part.objects.in_bulk(set(wanted))
    for row in judged.entries.parts:
        if row.part not in parts:
            judged.wrong("There is no such part.", "parts", row.part, "part")
        elif row.quantity <= 0:
            judged.wrong("Enter how much was used, or leave the part out.", "parts", row.part, "quantity")
        elif row.quantity != round(row.quantity, 2) or row.quantity >= 10**7:
            judged.wrong("Write the quantity with at most two decimals.", "parts", row.part, "quantity")
        else:
            part = parts[row.part]
            judged.parts[part] = judged.parts.get(part, Decimal(0)) + row.quantity
    people = Technician.objects.select_related("member__user").in_bulk(
        {row.technician for row in judged.entries.labour}
    )
    for spent in judged.entries.labour:
        if spent.technician not in people:
            judged.wrong("There is no such technician.", "labour", spent.technician, "technician")
        elif not 0 < spent.minutes <= 100_000:
            judged.wrong("Enter the minutes spent.", "labour", spent.technician, "minutes")
        else:
            person = people[spent.technician]
            judged.labour[person] = judged.labour.get(person, 0) + spent.minutes


def _once(rows: Sequence[tuple[int, Row]], where: Path, judged: Judged) -> dict[int, Row]:
    given: dict[int, Row] = {}
    for key, row in rows:
        if key in given:
            judged.wrong("This is entered twice.", *where, key)
        given[key] = row
    return given


def _keep_results(
    order: WorkOrder, results: Sequence[CheckResult], member: Member, now: datetime
) -> list[tuple[Machine, str]]:
    """Replace what changed; return the safety checks that fail now and didn't before, with their machines.

    A value that stays as it was keeps the name of the one who recorded it.
    """
    stored = {
        (result.line_id, result.check_made_id): result
        for result in CheckResult.objects.filter(line__order=order)
    }
    new, failed = [], []
    for result in results:
        old = stored.pop((result.line_id, result.check_made_id), None)
        if old and all(getattr(old, name) == getattr(result, name) for name in VALUES):
            result.recorded_by_id, result.recorded_at = old.recorded_by_id, old.recorded_at
        else:
            result.recorded_by, result.recorded_at = member, now
        if result.safety and result.passes is False and not (old and old.passes is False):
            failed.append((result.line.machine, _failed(result)))
        new.append(result)
    CheckResult.objects.filter(line__order=order).delete()
    CheckResult.objects.bulk_create(new)
    return failed
