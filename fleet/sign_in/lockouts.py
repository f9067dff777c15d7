"""What an owner sees of refused sign-ins and hears of by mail, and how they let a person in again."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from axes.models import AccessFailureLog
from django.db import transaction
from django.db.models import Count, Max, Min
from django.utils import timezone
from django.utils.translation import gettext as _
from django_scopes import scopes_disabled

from fleet.core.errors import FleetError, NotAllowed
from fleet.core.permission import require
from fleet.models import LetIn, Member, Organisation, User
from fleet.sign_in import attempts
from fleet.sign_in.addresses import shown
from fleet.sign_in.limits import Guess
from fleet.sign_in.names import key_of

MOST = 200
A_DAY = 5  # times one person is let in; else an owner could guess without end


@dataclass(frozen=True, slots=True)
class Refused:
    """Wrong passwords for one person from one address; it waits for that person `until` then."""

    person: Member
    address: str
    wrong: int
    first: datetime
    last: datetime
    until: datetime | None


def of_organisation(*, member: Member, now: datetime | None = None) -> list[Refused]:
    """Return the refused sign-ins of the member's organisation's people, the latest first; MOST at most.

    Names that nobody there has are in no list. Raises NotAllowed.
    """
    require(member, "manage_people", _("manage people"))
    now = now or timezone.now()
    people = {
        key_of(person.user.get_username()): person
        for person in Member.objects.filter(organisation=member.organisation).select_related("user")
    }
    rows = (
        AccessFailureLog.objects.filter(username__in=people)
        .values("username", "ip_address")
        .annotate(wrong=Count("pk"), first=Min("attempt_time"), last=Max("attempt_time"))
        .order_by("-last")[:MOST]
    )
    found = list(rows)
    waits = attempts.waits_of([Guess(row["username"], row["ip_address"]) for row in found], now=now)
    return [
        Refused(
            people[row["username"]],
            shown(row["ip_address"]),
            row["wrong"],
            row["first"],
            row["last"],
            wait.until if wait else None,
        )
        for row, wait in zip(found, waits, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class Stopped:
    """A person for whom wrong passwords were tried until tries had to wait: how often, and the last time."""

    person: Member
    times: int
    last: datetime
    address: str


def stopped(organisation: Organisation, *, since: datetime) -> list[Stopped]:
    """Return whose sign-ins were made to wait since then, of the organisation's people, by two queries.

    A lock is one time, however many guesses it then refuses unseen. Names that nobody has are in no list.
    """
    people = {
        key_of(person.user.get_username()): person
        for person in Member.objects.active().filter(organisation=organisation).select_related("user")
    }
    locks: dict[str, list[tuple[datetime, str | None]]] = {}
    rows = AccessFailureLog.objects.filter(username__in=people, locked_out=True, attempt_time__gt=since)
    for key, at, network in rows.order_by("attempt_time").values_list(
        "username", "attempt_time", "ip_address"
    ):
        locks.setdefault(key, []).append((at, network))
    return [
        Stopped(people[key], len(found), found[-1][0], shown(found[-1][1])) for key, found in locks.items()
    ]


@transaction.atomic
def let_in(*, person: Member, member: Member, now: datetime | None = None) -> LetIn:
    """Forget the wrong passwords counted for a person, so that they can try again at once.

    For a quarter of an hour neither other people's mistakes nor strangers hold them up. Raises NotAllowed,
    also for a person whose password opens more than this organisation; FleetError after A_DAY times in a day.
    """
    now = now or timezone.now()
    require(member, "manage_people", _("manage people"), person)
    # one at a time, so that the times of a day are counted
    user = User.objects.select_for_update().get(pk=person.user_id)
    with scopes_disabled():  # a sign-in may belong to several organisations
        elsewhere = Member.objects.filter(user=user).exclude(pk=person.pk).exists()
    if elsewhere or user.is_staff or user.is_superuser:
        said = _("{person} signs in elsewhere too; only the operator can let them in again.")
        raise NotAllowed(said.format(person=person))
    if LetIn.objects.filter(person=person, at__gt=now - timedelta(days=1)).count() >= A_DAY:
        said = _(
            "{person} was let in {times} times within a day. Give them a new link instead: open the person."
        )
        raise FleetError(said.format(person=person, times=A_DAY))
    key = key_of(user.get_username())
    attempts.forget_wrong(key)
    return LetIn.objects.create(organisation=member.organisation, person=person, by=member, at=now, key=key)
