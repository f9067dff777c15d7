"""The keys of a program file, as fixtures/programs/README.md describes them.

This is their one home: the reader's faults, the JSON Schema and the bounds of the forms' fields come from it.
"""

from decimal import Decimal
from typing import Annotated, Any, Literal, Self, get_args

from pydantic import BaseModel, ConfigDict, Field, ModelWrapValidatorHandler, WrapValidator, model_validator

from fleet.core.hazards import Action, Hazard, Signal
from fleet.models.machine import Category, WorkingCondition
from servicing import models
from servicing.models.check import CheckRule
from servicing.programs.file_format.kinds import (
    FLAG,
    Filled,
    Flag,
    Number,
    Sentences,
    Slug,
    Slugs,
    Text,
    Unit,
    one_of,
    whole,
)
from servicing.programs.file_format.limits import MOST_TASKS
from servicing.programs.file_format.sentences import not_keys
from servicing.programs.file_format.yaml_lines import line_of

Hours = Annotated[Decimal, Number()]
Period = Annotated[Decimal | None, Number(zero=False)]
Months = Annotated[int | None, whole(600, least=1)]
Minutes = Annotated[int, whole()]
LIMIT = Number(places=6, digits=14, signed=True)
Limit = Annotated[Decimal, LIMIT]
LimitOrNone = Annotated[Decimal | None, LIMIT]
Skill = Annotated[str, one_of(models.Task.Skill)]
Engine = Annotated[str, one_of(models.Task.Engine)]
Runs = Annotated[bool | None, FLAG]
Outside = Annotated[str | None, one_of(models.Task.Outside)]


class Keys(BaseModel):
    """Keys with values: those named here and no other. Nothing is taken for what it is not."""

    model_config = ConfigDict(strict=True, extra="forbid")

    _line: int | None = None

    @model_validator(mode="wrap")
    @classmethod
    def _read(cls, value: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        if not isinstance(value, dict):
            raise not_keys(cls, value)
        found = handler(value)
        found._line = line_of(value)
        return found

    @property
    def line(self) -> int | None:
        """The line of the file that it begins in; None where it was not read from one."""
        return self._line


class Interval(Keys):
    condition: Annotated[str, one_of(WorkingCondition)] = WorkingCondition.NORMAL.value
    first_hours: Period = None
    every_hours: Period = None
    first_months: Months = None
    every_months: Months = None
    anchor: Annotated[str | None, one_of(models.Interval.Anchor)] = None
    once: Flag = False
    early_window_hours: Hours = Decimal(0)
    late_allowance_hours: Hours = Decimal(0)
    to_month_end: Flag = False


class Caution(Keys):
    hazard: Annotated[str, one_of(Hazard)] = Hazard.GENERAL.value
    signal: Annotated[str, one_of(Signal)] = ""
    actions: Filled[Annotated[str, one_of(Action)]] = []
    text: Annotated[str, Text()]
    before_step: Annotated[int, whole(least=1)] = 0


class Tool(Keys):
    tool: Annotated[str, Text(80)]
    size: Annotated[str, Text(40)] = ""


class Supply(Keys):
    name: Annotated[str, Text(120)]
    number: Annotated[str, Text(60)]
    quantity: Annotated[Decimal, Number(zero=False)]
    grade: Annotated[str, Text(120)] = ""
    unit: Annotated[str, Text(12)] = "pc"


class Choice(Keys):
    value: Annotated[str, Text(80)]
    meaning: Annotated[str, Text(empty=True)] = ""
    passes: Flag


class Check(Keys):
    """What every check has; its further keys are decided by its kind."""

    code: Slug
    kind: Annotated[str, one_of(models.Check.Kind)]
    label: Annotated[str, Text(160)]
    safety: Flag = False


class Measure(Check):
    kind: Literal[CheckRule.Kind.MEASURE]
    unit: Unit
    lower: LimitOrNone = None
    upper: LimitOrNone = None
    target: LimitOrNone = None


class Torque(Check):
    kind: Literal[CheckRule.Kind.TORQUE]
    unit: Unit
    target: Limit
    lower: Limit
    upper: Limit
    socket: Annotated[str, Text(20)]
    pattern: Annotated[str, Text(80)]


class Look(Check):
    kind: Literal[CheckRule.Kind.SIGHT, CheckRule.Kind.LEVEL]
    choices: Filled[Choice]


class Function(Check):
    kind: Literal[CheckRule.Kind.FUNCTION]
    steps: Sentences
    expect: Annotated[str, Text()]


CHECKS: dict[str, type[Check]] = {
    kind.value: model
    for model in (Measure, Torque, Look, Function)
    for kind in get_args(model.model_fields["kind"].annotation)
}


class UnknownCheck(Check, extra="ignore"):
    """A check of no known kind: that is said, and not that every other key is wrong."""


def _known(value: Any, handler: Any) -> Any:
    kind = value.get("kind") if isinstance(value, dict) else None
    return handler(value) if isinstance(kind, str) and kind in CHECKS else UnknownCheck.model_validate(value)


AnyCheck = Annotated[Measure | Torque | Look | Function, Field(discriminator="kind"), WrapValidator(_known)]


class Task(Keys):
    code: Slug
    title: Annotated[str, Text(160)]
    intervals: list[Interval] = []
    occasion: Annotated[str, Text(200, empty=True)] = ""
    needs: Slugs = []
    without: Slugs = []
    skill: Skill
    minutes: Minutes
    wait_minutes: Minutes = 0
    waits_after: Minutes = 0
    engine: Engine
    runs: Runs = None
    place: Slug
    opens: Slugs = []
    prepare: Sentences
    cautions: Filled[Caution] = []
    tools: Filled[Tool] = []
    supplies: Filled[Supply] = []
    steps: Sentences
    checks: Filled[AnyCheck] = []
    outside: Outside = None
    outside_text: Annotated[str | None, Text()] = None
    manual_page: Annotated[str, Text(20)]
    note: Annotated[str, Text(empty=True)] = ""


class DraftTask(Task):
    """A draft's task, filled in little by little: only what it is and when it falls due must be there."""

    skill: Skill = models.Task.Skill.TECHNICIAN.value
    minutes: Minutes = 0
    engine: Engine = models.Task.Engine.ANY.value
    place: Slug = ""
    prepare: Sentences = []
    steps: Sentences = []
    manual_page: Annotated[str, Text(20, empty=True)] = ""
    outside: Outside = models.Task.Outside.ADJUST.value
    outside_text: Annotated[str | None, Text(empty=True)] = ""


class Fitment(Keys):
    code: Slug
    name: Annotated[str, Text(80)]


class Program(Keys):
    """A service programme."""

    program: Slug
    title: Annotated[str, Text(120)]
    maker: Annotated[str, Text(80)]
    model: Annotated[str, Text(80)]
    category: Annotated[str, one_of(Category)]
    source: Annotated[str, Text()]
    invented: Flag = False
    fitments: Filled[Fitment] = []
    round: Slugs
    tasks: Annotated[Filled[Task], Field(max_length=MOST_TASKS)]


def bounds(model: type[Keys], key: str) -> dict[str, Any]:
    """Return what a form's field for a key is made with: its longest text, its least and most."""
    (kind,) = model.model_fields[key].metadata
    return dict(kind.bounds)
