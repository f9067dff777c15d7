"""Tokens for the API are made, rotated and ended."""

from collections.abc import Collection
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.core.permission import require, require_own
from fleet.core.prepared_queries import prepared
from fleet.models import ApiToken, Machine, Member, Yard
from fleet.models.access import LASTS, PREFIX_LENGTH, digest, new_secret

TOLD_BEFORE = timedelta(days=14)  # its owner sees on Today that a token is about to expire


def beyond_reach(token: ApiToken | None, machine_ids: Collection[int]) -> Collection[int]:
    """Return those of these machines that a token may not send for. Asks one query, of a limited one."""
    if token is None or not token.limited:
        return ()
    return set(machine_ids).difference(pk for (pk,) in _reached(token=token.pk, machines=list(machine_ids)))


@prepared
def _reached(token: int, machines: list[int]) -> QuerySet:
    named = ApiToken.machines.through.objects.filter(apitoken=token).values("machine")
    yards = ApiToken.yards.through.objects.filter(apitoken=token).values("yard")
    reached = Machine.objects.filter(Q(pk__in=named) | Q(yard__in=yards), pk__among=machines)
    return reached.order_by().values_list("pk")


def issue(
    *,
    name: str,
    member: Member,
    device: bool = False,
    machines: Collection[Machine] = (),
    yards: Collection[Yard] = (),
    lasts: timedelta = LASTS,
) -> tuple[ApiToken, str]:
    """Make a token with the member's own rights, or one of a device, which may only send readings.

    machines, yards: the device may send for these, and for what stands in these, alone; without any, for all.
    lasts: how long a person's token does, a year at most; a device's lasts until somebody ends it.
    Returns it with its secret, which can't be had again. Raises NotAllowed; FleetError on `name`, `machines`
    or `lasts`.
    """
    if device:
        require(member, "manage_fleet", _("make tokens for devices"))
    require_own(member, *machines, *yards)
    limited = bool(machines or yards)
    if limited and not device:
        raise FleetError(_("Only a device's token can be limited to machines or yards."), field="machines")
    _expect_short(lasts)
    name = name.strip()
    if not name:
        raise FleetError(_("Say what will use it, so that you know which one to end."), field="name")
    same = ApiToken.objects.live().filter(name=name, member=None if device else member)
    if same.exists():
        raise FleetError(
            _("A token with this name is in use. Choose another name, or end that one."), field="name"
        )
    with transaction.atomic():
        token, secret = ApiToken.issue(
            name=name, created_by=member, member=None if device else member, limited=limited, lasts=lasts
        )
        token.machines.set(machines)
        token.yards.set(yards)
    return token, secret


def rotate(
    *,
    token: ApiToken,
    member: Member,
    old_until: datetime | None = None,
    lasts: timedelta = LASTS,
    now: datetime | None = None,
) -> str:
    """Give a token a new secret and return it; the one it had is good until `old_until`, or ends at once.

    A secret kept good by an earlier rotation ends now. A person's token lasts so long from now on; where it
    had expired, its old secret stays ended. Raises NotAllowed for a token that isn't the member's to see to;
    WrongState when it was ended; FleetError on `old_until` when that is past, on `lasts` beyond a year.
    """
    now = now or timezone.now()
    _expect_own(token, member)
    if old_until is not None and old_until <= now:
        raise FleetError(
            _("Give a time in the future, or leave it empty to end the old secret at once."),
            field="old_until",
        )
    _expect_short(lasts)
    secret = new_secret()
    with transaction.atomic():
        fresh = ApiToken.objects.select_for_update(of=("self",)).get(pk=token.pk)
        if fresh.revoked_at is not None:
            raise WrongState(_("This token has ended. Make a new one."))
        if old_until is not None and fresh.expires_at is not None and fresh.expires_at <= now:
            raise FleetError(_("The old secret has expired already. Leave this empty."), field="old_until")
        token.expires_at = None if fresh.is_device else now + lasts
        token.old_prefix, token.old_digest = ("", None) if old_until is None else (fresh.prefix, fresh.digest)
        token.old_until, token.old_used_at = old_until, None if old_until is None else fresh.last_used_at
        token.prefix, token.digest = secret[:PREFIX_LENGTH], digest(secret)
        token.rotated_at, token.last_used_at = now, None
        token.save(
            update_fields=[
                "old_prefix",
                "old_digest",
                "old_until",
                "old_used_at",
                "prefix",
                "digest",
                "rotated_at",
                "last_used_at",
                "expires_at",
            ]
        )
    return secret


def revoke(*, token: ApiToken, member: Member) -> None:
    """End a token at once. Raises NotAllowed for another person's, or for a device's without the right."""
    _expect_own(token, member)
    token.revoke()


def ending_soon(*, member: Member, now: datetime | None = None) -> list[ApiToken]:
    """Return the member's own tokens that expire within TOLD_BEFORE, the next first. Needs the scope."""
    now = now or timezone.now()
    soon = ApiToken.objects.live(now).filter(member=member, expires_at__lte=now + TOLD_BEFORE)
    return list(soon.order_by("expires_at", "pk"))


def _expect_short(lasts: timedelta) -> None:
    if not timedelta(0) < lasts <= LASTS:
        said = _("A token lasts from a day to {most} days; choose fewer.")
        raise FleetError(said.format(most=LASTS.days), field="lasts")


def _expect_own(token: ApiToken, member: Member) -> None:
    require_own(member, token)
    if token.is_device:
        require(member, "manage_fleet", _("change tokens of devices"))
    elif token.member_id != member.pk:
        raise NotAllowed(_("You can't change this token."))
