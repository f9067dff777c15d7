"""The list of first steps, for whoever asks; once an organisation is set up, nothing is asked for it."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from fleet.accounts.setup import right_for
from fleet.models import Member, Organisation, SetupStep
from servicing.first_day import steps
from servicing.first_day.step import Step

STEPS: tuple[Callable[[Organisation], Step], ...] = (
    steps.yards,
    steps.machines,
    steps.programs,
    steps.last_done,
    steps.hours,
    steps.people,
    steps.figures,
)
"""In the order in which they are best done. Each is called within the organisation's scope."""


@dataclass(frozen=True)
class Checklist:
    """The steps that are a member's to do, and the open ones that only others may."""

    steps: tuple[Step, ...]
    for_others: tuple[Step, ...] = ()

    @property
    def open(self) -> tuple[Step, ...]:
        """The steps still to be done, whoever may."""
        return (*(step for step in self.steps if step.is_open), *self.for_others)

    @property
    def number_open(self) -> int:
        """How many of the member's own steps are still to be done."""
        return sum(step.is_open for step in self.steps)


def all_steps(organisation: Organisation) -> tuple[Step, ...]:
    """Return every step as it stands; none once the organisation is set up. Needs its scope."""
    if organisation.set_up_at is not None:
        return ()
    waved_off = {row.step: row for row in SetupStep.objects.select_related("waved_off_by__user")}
    found = (judge(organisation) for judge in STEPS)
    return tuple(replace(step, waved_off=waved_off.get(step.code)) for step in found)


def checklist(member: Member) -> Checklist | None:
    """Return the list for a member; None once the organisation is set up, and for who can't manage it."""
    rights = member.rights
    if member.organisation.set_up_at is not None or not rights.manage_fleet:
        return None
    every = all_steps(member.organisation)
    own = tuple(step for step in every if getattr(rights, right_for(step.code)))
    return Checklist(own, tuple(step for step in every if step not in own and step.is_open))
