"""Those who may not do a thing ask for it; the ask stands until somebody has dealt with it."""

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _
from django_scopes import scope

from fleet.calendar.commitments import hold
from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.core.permission import require_own
from fleet.models import Ask, Machine, Member
from fleet.usage.figures import long_day

Matter = Ask.Matter
RIGHTS = {Matter.SEND_OUT: "plan_orders", Matter.BOOK: "plan_orders", Matter.CLEAR: "clear_tag_outs"}
"""The right of those who deal with a matter."""


def may_deal_with(member: Member, matter: str) -> bool:
    """Whether asks about a matter stand on this member's Today."""
    return bool(getattr(member.rights, RIGHTS[Matter(matter)]))


def deals_with_any(member: Member) -> bool:
    """Whether the member may deal with asks about some matter."""
    return any(may_deal_with(member, matter) for matter in RIGHTS)


def may_ask(member: Member, matter: str) -> bool:
    """Whether the member asks rather than does it: whoever sends units out and books them may ask."""
    return member.rights.gate and not may_deal_with(member, matter)


def to_deal_with(member: Member) -> QuerySet[Ask]:
    """Return the standing asks that the member may deal with, the oldest first."""
    matters = [matter for matter in RIGHTS if may_deal_with(member, matter)]
    return Ask.objects.standing().filter(matter__in=matters, machine__retired_on=None)


def ask(
    *,
    machine: Machine,
    matter: str,
    member: Member,
    against: Sequence[str],
    whom: str = "",
    first_on: date | None = None,
    last_on: date | None = None,
    note: str = "",
    now: datetime | None = None,
) -> Ask:
    """Ask for a thing that stands before the member; one ask stands for a machine and a matter.

    against: what is in the way, in sentences. Raises NotAllowed for another organisation's machine or a role
    that doesn't ask for this; WrongState when it is asked for already, naming who did and when.
    """
    require_own(member, machine)
    if not may_ask(member, matter):
        raise NotAllowed(_("Your role can't ask for this."))
    with scope(organisation=member.organisation), transaction.atomic():
        machine = hold(machine)
        standing = Ask.objects.standing().filter(machine=machine, matter=matter)
        if before := standing.select_related("asked_by__user").first():
            day = long_day(machine.today(before.asked_at))
            said = (
                _("{who} asked for this on {day} for {whom}. It is not answered yet.")
                if before.whom
                else _("{who} asked for this on {day}. It is not answered yet.")
            )
            raise WrongState(said.format(who=before.asked_by or _("Somebody"), day=day, whom=before.whom))
        return Ask.objects.create(
            organisation_id=machine.organisation_id,
            machine=machine,
            matter=matter,
            whom=whom.strip(),
            first_on=first_on,
            last_on=last_on,
            note=note.strip(),
            against=list(against),
            asked_by=member,
            asked_at=now or timezone.now(),
        )


def deal_with(*, ask: Ask, member: Member, outcome: str, now: datetime | None = None) -> Ask:
    """Say what was done about an ask, or what the answer is; it stands no more.

    Raises NotAllowed; FleetError on `outcome` when nothing is said; WrongState when somebody has dealt with
    it already.
    """
    require_own(member, ask)
    if not may_deal_with(member, ask.matter):
        raise NotAllowed(_("Your role can't answer this."))
    if not outcome.strip():
        raise FleetError(_("Say what was done about it, or why not."), field="outcome")
    if not _end(Ask.objects.filter(pk=ask.pk), member, outcome, now):
        ask.refresh_from_db()
        said = _("{who} has answered this already: {answer}")
        raise WrongState(said.format(who=ask.dealt_by or _("Somebody"), answer=ask.outcome))
    ask.refresh_from_db()
    return ask


def done(
    *,
    machine: Machine,
    matter: str,
    member: Member,
    outcome: str,
    days: tuple[date, date] | None = None,
    now: datetime | None = None,
) -> None:
    """End the standing ask of a machine, if there is one: what it asked for was just done by this member.

    A member who may not deal with the matter ends an own ask alone. days: of what was done, where an ask for
    other days stands on. Call it in the transaction that did it.
    """
    asks = Ask.objects.filter(machine=machine, matter=matter)
    if not may_deal_with(member, matter):
        asks = asks.filter(asked_by=member)
    if days:
        asks = asks.filter(first_on__lte=days[1], last_on__gte=days[0])
    _end(asks, member, outcome, now)


def _end(asks: QuerySet[Ask], member: Member, outcome: str, now: datetime | None) -> int:
    return asks.standing().update(  # type: ignore[attr-defined]
        dealt_by=member, dealt_at=now or timezone.now(), outcome=outcome.strip()
    )
