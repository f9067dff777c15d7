"""A step of the list of first steps, as it stands in one organisation."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from django.utils.translation import gettext as _

from fleet.models import SetupStep

NAMED = 3  # of what is missing; of the rest it is said how many


class State(StrEnum):
    """How far a step has come."""

    DONE = "done"
    MISSING = "missing"
    WAVED_OFF = "not needed"


@dataclass(frozen=True)
class Place:
    """Where a step is done: the words of the link, and its address."""

    words: str
    address: str


@dataclass(frozen=True)
class Lack:
    """One thing that is missing, with a word on it; place: where that one is mended, if it has its own."""

    name: str
    note: str = ""
    place: Place | None = None


@dataclass(frozen=True)
class Step:
    """One step. said: what is there, or what is missing; why: what it is for. lacks: each thing missing."""

    code: SetupStep.Code
    done: bool
    said: str
    why: str
    places: tuple[Place, ...] = ()
    lacks: tuple[Lack, ...] = ()
    waved_off: SetupStep | None = field(default=None, compare=False)

    @property
    def title(self) -> str:
        """What the step is called."""
        return str(self.code.label)

    @property
    def state(self) -> State:
        """Done, missing or not needed; what is done is done, whatever was waved off before."""
        if self.done:
            return State.DONE
        return State.WAVED_OFF if self.waved_off else State.MISSING

    @property
    def is_open(self) -> bool:
        """Whether it is still to be done."""
        return self.state == State.MISSING

    @property
    def first_lacks(self) -> tuple[Lack, ...]:
        """The first few that are mended at places of their own."""
        return self._placed[:NAMED]

    @property
    def more_lacks(self) -> tuple[Lack, ...]:
        """The rest of them."""
        return self._placed[NAMED:]

    @property
    def _placed(self) -> tuple[Lack, ...]:
        return tuple(lack for lack in self.lacks if lack.place)


def named(names: Sequence[str]) -> str:
    """Name the first few, and say how many more there are: "T-01, T-02, T-03 and 6 more"."""
    first = ", ".join(names[:NAMED])
    more = len(names) - NAMED
    return _("{names} and {number} more").format(names=first, number=more) if more > 0 else first
