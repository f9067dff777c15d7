"""Why the gate keeps a unit in."""

from collections.abc import Sequence

from fleet.calendar.commitments import Promise, Promised
from fleet.core.errors import FleetError, WrongState
from servicing.gate.readiness import Answer


class Kept(WrongState):
    """The gate keeps the unit in; `answer` says why."""

    code = "kept-in"

    def __init__(self, sentence: str, *, answer: Answer, field: str | None = None) -> None:
        super().__init__(sentence, field=field)
        self.answer = answer


class TaggedOut(Kept):
    """Nobody may use it until a named person clears the tag-out."""

    code = "tagged-out"


class ServiceFirst(Kept):
    """It may go only with a reason, given by someone who plans the work."""

    code = "service-first"


class SpokenFor(Kept, Promised):
    """Its days are promised, to another hirer or to work; with a reason, someone who plans may send it."""

    code = "promised"

    def __init__(
        self, sentence: str, *, answer: Answer, conflicts: Sequence[Promise], field: str | None = None
    ) -> None:
        FleetError.__init__(self, sentence, field=field)
        self.answer = answer
        self.conflicts = tuple(conflicts)
