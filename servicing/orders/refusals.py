"""Why an order can't be moved on."""

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.errors import FleetError, Stale, WrongState

Path = tuple[str | int, ...]


class OrderMoved(Stale):
    """The order isn't what it was when it was shown; `revision` is what it is now."""

    def __init__(self, sentence: str, *, revision: int) -> None:
        super().__init__(sentence)
        self.revision = revision


class OrderNotReadyFor(WrongState):
    """The order's state, or its machine's, doesn't allow this; `revision` is the order's."""

    def __init__(self, sentence: str, *, revision: int) -> None:
        super().__init__(sentence)
        self.revision = revision


@dataclass(frozen=True)
class Problem:
    """One thing that is missing or wrong: `path` says where, as ("lines", 12, "checks", 7, "found")."""

    path: Path
    sentence: str


class NotReady(FleetError):
    """Entries are missing or wrong; `problems` names every one of them.

    `revision`: the order's, once what can hurt somebody has been kept of them; None before.
    """

    code = "not-ready"

    def __init__(self, problems: Sequence[Problem]) -> None:
        number = len(problems)
        what = "1 entry is" if number == 1 else f"{number} entries are"
        super().__init__(f"Not saved yet: {what} missing or wrong. What you entered is still here.")
        self.problems = tuple(problems)
        self.revision: int | None = None
