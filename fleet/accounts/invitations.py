"""People come into an organisation: asked by an owner, by mail, and in once they follow the link in it.

Nobody is in before. So an owner sees the same of an address that signs in to another organisation here as of
one that nobody has; only who reads its mail learns which it is.
"""

from datetime import timedelta

from django.conf import settings
from django.core import signing
from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _
from django_scopes import scope, scopes_disabled

from fleet.accounts import members
from fleet.core.errors import FleetError, Stale, WrongState
from fleet.core.permission import require
from fleet.models import Member, Newcomer, User

SALT = "fleet.newcomers"  # as it was when links now on their way were signed: another name would void them
AGAIN_AFTER = timedelta(minutes=1)  # so that nobody's mailbox is filled by an impatient finger


def ask(*, name: str, email: str, role: str, member: Member) -> Newcomer:
    """Ask a person into the member's organisation, by mail.

    Raises NotAllowed; FleetError on `name`, `role`, or on `email` when the address is in this organisation,
    or asked into it, already.
    """
    require(member, "manage_people", _("manage people"))
    name, email = name.strip(), email.strip().lower()
    if not name:
        raise FleetError(_("Give their name."), field="name")
    if role not in Member.Role.values:
        raise FleetError(_("Choose a role."), field="role")
    here = Member.objects.filter(Q(user__username__iexact=email) | Q(user__email__iexact=email))
    if known := here.select_related("user").first():
        said = _("{person} is in the list already with this address.")
        if not known.active:
            said = _("{person} is in the list already with this address. Let them sign in again instead.")
        raise FleetError(said.format(person=known), field="email")
    asked = FleetError(
        _("This address has been invited already. Send the link again from the People page."), field="email"
    )
    if Newcomer.objects.awaited().filter(email__iexact=email).exists():
        raise asked
    try:
        with transaction.atomic():
            newcomer = Newcomer.objects.create(
                organisation=member.organisation, name=name, email=email, role=role, asked_by=member
            )
            _mail(newcomer, member)
    except IntegrityError:
        raise asked from None
    return newcomer


def ask_again(*, newcomer: Newcomer, member: Member) -> None:
    """Mail another link; the one before is void. Raises NotAllowed; WrongState once they are in."""
    require(member, "manage_people", _("manage people"), newcomer)
    now = timezone.now()
    with transaction.atomic():
        waiting = Newcomer.objects.awaited().filter(pk=newcomer.pk)
        if waiting.filter(asked_at__gt=now - AGAIN_AFTER).exists():
            raise WrongState(_("A link was sent a moment ago. Wait a minute, then send another."))
        if not waiting.update(asked_at=now):
            raise _joined_or_withdrawn(newcomer)
        newcomer.asked_at = now
        _mail(newcomer, member)


def withdraw(*, newcomer: Newcomer, member: Member) -> None:
    """Take it back: the link opens nothing from now on. Raises NotAllowed; WrongState once they are in."""
    require(member, "manage_people", _("manage people"), newcomer)
    if not Newcomer.objects.awaited().filter(pk=newcomer.pk).update(withdrawn_at=timezone.now()):
        raise _joined_or_withdrawn(newcomer)


def secret_of(newcomer: Newcomer) -> str:
    """Make what the link carries, when the mail goes out; it is kept nowhere."""
    return signing.dumps([newcomer.pk, newcomer.asked_at.isoformat()], salt=SALT)


def met(secret: str, *, lock: bool = False) -> Newcomer | None:
    """Return who may come in by this link; None when it is wrong, used, withdrawn or too old."""
    try:
        pk, asked_at = signing.loads(secret, salt=SALT, max_age=settings.PASSWORD_RESET_TIMEOUT)
    except signing.BadSignature:
        return None
    with scopes_disabled():  # the link itself says which organisation
        newcomers = Newcomer.objects.awaited().select_related("organisation", "asked_by__user")
        found = (newcomers.select_for_update(of=("self",)) if lock else newcomers).filter(pk=pk).first()
    return found if found and found.asked_at.isoformat() == asked_at else None


def account_of(newcomer: Newcomer) -> User | None:
    """Return who signs in here with that address, in whatever organisation. For the link's page alone."""
    known = User.objects.filter(Q(username__iexact=newcomer.email) | Q(email__iexact=newcomer.email))
    return known.order_by("pk").first()


def come_in(*, secret: str, user: User) -> Member:
    """Let somebody who signs in here already into the organisation; return their membership.

    user: whose password was just given. Raises Stale when the link has ended or is for somebody else.
    """
    with transaction.atomic():
        newcomer = _expect(secret)
        if account_of(newcomer) != user:
            raise _ended()
        return _enter(newcomer, user)


def begin(*, secret: str, password: str) -> Member:
    """Make the sign-in of somebody new with that password; return their membership. Raises Stale."""
    with transaction.atomic():
        newcomer = _expect(secret)
        user = User(username=newcomer.email, email=newcomer.email, first_name=newcomer.name)
        user.set_password(password)
        try:
            with transaction.atomic():
                user.save()
        except IntegrityError:  # came in through another organisation's link meanwhile
            raise _ended() from None
        return _enter(newcomer, user)


def _expect(secret: str) -> Newcomer:
    newcomer = met(secret, lock=True)
    if newcomer is None:
        raise _ended()
    return newcomer


def _ended() -> Stale:
    return Stale(_("This link has been used or is too old. Ask for a new one."))


def _joined_or_withdrawn(newcomer: Newcomer) -> WrongState:
    said = _("{person} has joined already, or the invitation was withdrawn.")
    return WrongState(said.format(person=newcomer))


def _enter(newcomer: Newcomer, user: User) -> Member:
    with scope(organisation=newcomer.organisation):
        member, _made = Member.objects.get_or_create(
            organisation=newcomer.organisation, user=user, defaults={"role": newcomer.role}
        )
        newcomer.member = member
        newcomer.save(update_fields=["member"])
        members.tell(member)
    return member


def _mail(newcomer: Newcomer, member: Member) -> None:
    for send in members.when_a_link_is_wanted:
        send(newcomer, member)
