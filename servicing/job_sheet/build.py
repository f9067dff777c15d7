"""The job sheet of an order: what to prepare, what to bring, and the work step by step."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import reduce
from math import ceil

from django.utils.translation import gettext as _

from servicing.job_sheet import order_of_work
from servicing.measurements import limits
from servicing.measurements.previous_values import Last, last_values
from servicing.models import Caution, Check, CheckResult, Line, SupplyNeed, Task, WorkOrder
from servicing.models.check import CheckRule, word_said
from servicing.planning.merge_lists import Supply, Tool, merge_supplies, merge_texts, merge_tools
from servicing.planning.route import COOLING, WARM_UP, Part, Route, Visit


@dataclass(frozen=True)
class Step:
    """One step, with the cautions that come before it."""

    text: str
    cautions: tuple[Caution, ...]


@dataclass(frozen=True)
class SheetCheck:
    """One check: what is allowed in words, roughly that in other units, what was entered so far, and the
    machine's values the last time."""

    check: Check
    limit: str
    hint: str = ""
    result: CheckResult | None = None
    last: Last | None = None


@dataclass(frozen=True)
class Return:
    """Going back to a line that waited, to finish it after `idle` more minutes. Covers by name."""

    number: int
    line: Line
    idle: int
    closes: tuple[str, ...]


@dataclass(frozen=True)
class SheetLine:
    """One line in its place in the order of work; covers by name, minutes in whole ones.

    `waits_after`: the step, counted from 1, after which it drains or settles; 0: it never waits.
    `prepare`: what is prepared only now, as the engine stands otherwise at the beginning. `begins`: minutes
    from the beginning. `warm_up`: minutes to run the engine warm for it, with all shut. `idle`: minutes to
    wait before it because the engine is not cold yet. `meanwhile`: the numbers of the lines that are done
    while it waits. `back`: what is gone back to and finished when this line is done.
    """

    line: Line
    number: int = 0
    place: str = ""
    waits_after: int = 0
    opens: tuple[str, ...] = ()
    closes: tuple[str, ...] = ()
    prepare: tuple[str, ...] = ()
    first: tuple[Caution, ...] = ()
    steps: tuple[Step, ...] = ()
    checks: tuple[SheetCheck, ...] = ()
    begins: int | None = None
    warm_up: int = 0
    idle: int = 0
    meanwhile: tuple[int, ...] = ()
    back: Return | None = None

    @property
    def cautions(self) -> list[Caution]:
        """Every caution of the line, in the order of its steps."""
        return [*self.first, *(caution for step in self.steps for caution in step.cautions)]


@dataclass(frozen=True)
class JobSheet:
    """The whole sheet, times in minutes. `minutes`: hands on, which lacks the `untimed` tasks whose minutes
    were never entered (faults have none to enter); `wait_minutes`: nobody need stand by;
    `elapsed_minutes`: from beginning to end; `idle_minutes`: of these, with nothing else to do.

    `standing`: how the engine is to stand at the beginning, "" where it makes no difference.
    """

    order: WorkOrder
    prepare: list[str]
    tools: list[Tool]
    supplies: list[Supply]
    lines: list[SheetLine]
    minutes: int
    wait_minutes: int
    untimed: int = 0
    manual_pages: list[tuple[str, str]] = field(default_factory=list)
    elapsed_minutes: int = 0
    idle_minutes: int = 0
    standing: str = ""

    @property
    def invented(self) -> bool:
        """Whether a task on it comes from a program whose figures are invented."""
        return any(row.line.task.version.invented for row in self.lines if row.line.task)

    @property
    def next(self) -> SheetLine | None:
        """The first line that nobody has an outcome for."""
        return next((row for row in self.lines if not row.line.outcome), None)

    @property
    def short(self) -> list[Supply]:
        """The supplies of which the stock doesn't hold enough."""
        return [supply for supply in self.supplies if supply.short]


def build_job_sheet(order: WorkOrder) -> JobSheet:
    """Build the sheet of an order; asks a constant number of queries, however many lines it has.

    Lines without a task (faults to put right) come last: nobody knows yet where and how long.
    """
    lines = list(
        order.lines.select_related("task__version__program", "duty__machine").prefetch_related(
            "task__cautions",
            "task__tools",
            "task__supplies__part__stocks",
            "task__checks",
            "task__needs",
            "results",
            "faults",
        )
    )
    by_id = {line.pk: line for line in lines}
    route = order_of_work.route((line.pk, line.task) for line in lines if line.task)
    ordered = [task for number in _numbers(route) if (task := by_id[number].task)]
    checks = [check for task in ordered for check in task.checks.all()]
    prepare = merge_texts(
        text for task in ordered if task.engine in (route.stands, Task.Engine.ANY) for text in task.prepare
    )
    return JobSheet(
        order=order,
        prepare=prepare,
        tools=merge_tools(
            [(tool.tool, tool.size) for task in ordered for tool in task.tools.all()], _torques(checks)
        ),
        supplies=merge_supplies(_supply(need) for task in ordered for need in task.supplies.all()),
        lines=_lines(lines, route, prepare, last_values(order, checks)),
        minutes=sum(task.minutes for task in ordered),
        wait_minutes=sum(task.wait_minutes for task in ordered),
        untimed=sum(not task.minutes for task in ordered),
        manual_pages=[(task.manual_page, task.title) for task in ordered if task.manual_page],
        elapsed_minutes=ceil(route.elapsed),
        idle_minutes=ceil(route.idle),
        standing=_standing(route.stands),
    )


def named(slug: str) -> str:
    """Return a place or cover as a person says it: "left-side-panel" is "left side panel"."""
    return slug.replace("-", " ")


def allowed(check: CheckRule) -> str:
    """Return what passes, in words: "7 to 9 mm, aim for 8", "dry or damp", "must pass"."""
    if check.is_numeric:
        return limits.said(check.lower, check.upper, check.unit, check.target)
    if not check.choices:
        return _("must pass")
    passing = [word_said(choice["value"]) for choice in check.choices if choice["passes"]]
    return reduce(lambda one, other: _("{one} or {other}").format(one=one, other=other), passing or [""])


def _standing(stands: str) -> str:
    if stands == Task.Engine.COLD:
        said = _("Let the engine cool before you begin: about {hours} hours after its last run.")
        return said.format(hours=COOLING // 60)
    if stands == Task.Engine.WARM:
        return _("Begin with the engine warm, straight from work, switched off and secured.")
    return ""


def _numbers(route: Route) -> dict[int, int]:
    """Return the numbers of the lines on the sheet, counted from 1 as they are begun."""
    begun = dict.fromkeys(visit.job.id for visit in route.visits)
    return {pk: number for number, pk in enumerate(begun, start=1)}


def _lines(
    lines: Iterable[Line], route: Route, prepared: list[str], last: dict[int, Last]
) -> list[SheetLine]:
    by_id = {line.pk: line for line in lines}
    numbers = _numbers(route)
    rows: dict[int, SheetLine] = {}
    waiting: int | None = None
    for visit in route.visits:
        pk = visit.job.id
        if visit.part is Part.FINISH:
            back = Return(numbers[pk], by_id[pk], ceil(visit.idle), tuple(map(named, visit.closes)))
            newest = next(reversed(rows))
            rows[newest] = replace(rows[newest], back=back)
            waiting = None
            continue
        rows[pk] = _begun(by_id[pk], numbers[pk], visit, prepared, last)
        if waiting is not None:
            rows[waiting] = replace(rows[waiting], meanwhile=(*rows[waiting].meanwhile, numbers[pk]))
        if visit.part is Part.BEGIN:
            waiting = pk
    faults = [line for line in by_id.values() if line.task is None]
    return [*rows.values(), *(SheetLine(line, number) for number, line in enumerate(faults, len(rows) + 1))]


def _begun(line: Line, number: int, visit: Visit, prepared: list[str], last: dict[int, Last]) -> SheetLine:
    task = line.task
    assert task is not None  # a fault has no place in the route
    results = {result.check_made_id: result for result in line.results.all()}
    before: dict[int, list[Caution]] = {}
    for caution in task.cautions.all():
        before.setdefault(min(caution.before_step, len(task.steps)), []).append(caution)
    return SheetLine(
        line,
        number,
        place=named(task.place),
        waits_after=(task.waits_after or len(task.steps)) if task.wait_minutes else 0,
        opens=tuple(map(named, visit.opens)),
        closes=tuple(map(named, visit.closes)),
        prepare=tuple(merge_texts([*prepared, *task.prepare])[len(prepared) :]),
        first=tuple(before.get(0, ())),
        steps=tuple(
            Step(text, tuple(before.get(number, ()))) for number, text in enumerate(task.steps, start=1)
        ),
        checks=tuple(
            SheetCheck(
                check,
                allowed(check),
                _hint(check, line.order.organisation.units),
                results.get(check.pk),
                last.get(check.pk),
            )
            for check in task.checks.all()
        ),
        begins=int(visit.starts),
        warm_up=WARM_UP if visit.warm_up else 0,
        idle=ceil(visit.idle),
    )


def _hint(check: Check, system: str) -> str:
    return limits.in_system(check.lower, check.upper, check.unit, system) if check.is_numeric else ""


def _supply(need: SupplyNeed) -> Supply:
    part = need.part
    return Supply(part.pk, part.name, part.number, part.grade, part.unit, need.quantity, part.in_stock)


def _torques(checks: Iterable[Check]) -> list[tuple[Decimal, str]]:
    asked = []
    for check in checks:
        highest = max(
            (value for value in (check.lower, check.target, check.upper) if value is not None), default=None
        )
        if check.kind == Check.Kind.TORQUE and highest is not None:
            fraction = limits.comparable(highest, check.unit, "N·m")
            newton_metres = Decimal(fraction.numerator) / Decimal(fraction.denominator)
            asked.append((newton_metres, f"{limits.shown(highest)} {limits.spelled(check.unit)}"))
    return asked
