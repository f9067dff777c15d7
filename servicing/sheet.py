"""The job sheet of an order: what to prepare, what to bring, and the work step by step."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal

from servicing import limits
from servicing.models import Caution, Check, CheckResult, Line, SupplyNeed, WorkOrder
from servicing.planning.sheet import (
    Job,
    Stop,
    Supply,
    Tool,
    merge_supplies,
    merge_texts,
    merge_tools,
    order_of_work,
)


@dataclass(frozen=True)
class Step:
    """One step, with the cautions that come before it."""

    text: str
    cautions: tuple[Caution, ...]


@dataclass(frozen=True)
class SheetCheck:
    """One check: what is allowed in words, roughly that in other units, and what was entered so far."""

    check: Check
    limit: str
    hint: str = ""
    result: CheckResult | None = None


@dataclass(frozen=True)
class SheetLine:
    """One line in its place in the order of work; covers by name."""

    line: Line
    place: str = ""
    opens: tuple[str, ...] = ()
    closes: tuple[str, ...] = ()
    first: tuple[Caution, ...] = ()
    steps: tuple[Step, ...] = ()
    checks: tuple[SheetCheck, ...] = ()


@dataclass(frozen=True)
class JobSheet:
    """The whole sheet. `minutes`: hands on; `wait_minutes`: nobody need stand by."""

    order: WorkOrder
    prepare: list[str]
    tools: list[Tool]
    supplies: list[Supply]
    lines: list[SheetLine]
    minutes: int
    wait_minutes: int
    manual_pages: list[tuple[str, str]] = field(default_factory=list)

    @property
    def short(self) -> list[Supply]:
        """The supplies of which the stock doesn't hold enough."""
        return [supply for supply in self.supplies if supply.short]


def build(order: WorkOrder) -> JobSheet:
    """Build the sheet of an order; asks a constant number of queries, however many lines it has."""
    lines = list(
        order.lines.select_related("task__version__program").prefetch_related(
            "task__cautions",
            "task__tools",
            "task__supplies__part__stocks",
            "task__checks",
            "results",
            "defects",
        )
    )
    tasks = [line.task for line in lines if line.task]
    walk = tasks[0].version.program.round if tasks else []
    placed = [(stop, next(line for line in lines if line.pk == stop.job.id)) for stop in _stops(lines, walk)]
    ordered = [line.task for _, line in placed if line.task]
    return JobSheet(
        order=order,
        prepare=merge_texts(text for task in ordered for text in task.prepare),
        tools=merge_tools(
            [(tool.tool, tool.size) for task in tasks for tool in task.tools.all()],
            _torques(check for task in tasks for check in task.checks.all()),
        ),
        supplies=merge_supplies(_supply(need) for task in tasks for need in task.supplies.all()),
        lines=[_sheet_line(line, stop, order.organisation.units) for stop, line in placed],
        minutes=sum(task.minutes for task in tasks),
        wait_minutes=sum(task.wait_minutes for task in tasks),
        manual_pages=[(task.manual_page, task.title) for task in ordered if task.manual_page],
    )


def named(slug: str) -> str:
    """Return a place or cover as a person says it: "left-side-panel" is "left side panel"."""
    return slug.replace("-", " ")


def allowed(check: Check | CheckResult) -> str:
    """Return what passes, in words: "7 to 9 mm, aim for 8", "dry or damp", "must pass"."""
    if check.is_numeric:
        return limits.said(check.lower, check.upper, check.unit, check.target)
    if not check.choices:
        return "must pass"
    return " or ".join(choice["value"] for choice in check.choices if choice["passes"])


def _stops(lines: Iterable[Line], walk: list[str]) -> list[Stop]:
    return order_of_work(
        [
            Job(line.pk, line.task.engine, line.task.place, tuple(line.task.opens))
            if line.task
            else Job(line.pk)
            for line in lines
        ],
        walk,
    )


def _sheet_line(line: Line, stop: Stop, system: str) -> SheetLine:
    if line.task is None:
        return SheetLine(line)
    results = {result.check_made_id: result for result in line.results.all()}
    before: dict[int, list[Caution]] = {}
    for caution in line.task.cautions.all():
        before.setdefault(min(caution.before_step, len(line.task.steps)), []).append(caution)
    return SheetLine(
        line,
        place=named(line.task.place),
        opens=tuple(map(named, stop.opens)),
        closes=tuple(map(named, stop.closes)),
        first=tuple(before.get(0, ())),
        steps=tuple(
            Step(text, tuple(before.get(number, ()))) for number, text in enumerate(line.task.steps, start=1)
        ),
        checks=tuple(
            SheetCheck(check, allowed(check), _hint(check, system), results.get(check.pk))
            for check in line.task.checks.all()
        ),
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
            exact = limits.comparable(highest, check.unit, "N·m")
            newton_metres = Decimal(exact.numerator) / Decimal(exact.denominator)
            asked.append((newton_metres, f"{limits.plain(highest)} {limits.spelled(check.unit)}"))
    return asked
