"""Why an order can't be moved on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.core.errors import FleetError, Stale, WrongState

Path = tuple[str | int, ...]


@dataclass(frozen=True)
class Problem:
    """One thing that is missing or wrong: `path` says where, as ("lines", 12, "checks", 7, "found")."""

    path: Path
    sentence: str


@dataclass(frozen=True)
class Recorder:
    """Who entered something and when; `by` is "" where that isn't known any more."""

    by: str
    at: datetime | None


@dataclass(frozen=True)
class Differing:
    """One entry with two values as they are typed, with their unit; "" for nothing.

    `path` is that of a Problem.
    """

    path: Path
    entered: str
    recorded: str
    recorder: Recorder | None


class OrderMoved(Stale):
    """The order isn't what it was when it was shown; `revision` is what it is now.

    `differing`: where the entries that came with it differ from what is recorded now.
    """

    def __init__(self, sentence: str, *, revision: int) -> None:
        super().__init__(sentence)
        self.revision = revision
        self.differing: Sequence[Differing] = ()


class Undecided(OrderMoved):
    """Somebody else's value differs and nobody has said yet which stands; `problems` names each place."""

    def __init__(self, problems: Sequence[Problem], *, revision: int) -> None:
        super().__init__(_("Choose which value to keep where two differ."), revision=revision)
        self.problems = tuple(problems)


class OrderNotReadyFor(WrongState):
    """The order's state, or its machine's, doesn't allow this; `revision` is the order's."""

    def __init__(self, sentence: str, *, revision: int) -> None:
        super().__init__(sentence)
        self.revision = revision


class NotReady(FleetError):
    """Entries are missing or wrong; `problems` names every one of them.

    `revision`: the order's, once what can hurt somebody has been kept of them; None before.
    """

    code = "not-ready"

    def __init__(self, problems: Sequence[Problem]) -> None:
        said = ngettext(
            "Not saved yet: {number} entry is missing or wrong. What you entered is still here.",
            "Not saved yet: {number} entries are missing or wrong. What you entered is still here.",
            len(problems),
        )
        super().__init__(said.format(number=len(problems)))
        self.problems = tuple(problems)
        self.revision: int | None = None
