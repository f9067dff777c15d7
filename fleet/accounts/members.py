"""People change their role, leave and come back; a forgotten password is set by a one-time link."""

from collections.abc import Callable
from dataclasses import dataclass

from django.contrib.auth.tokens import default_token_generator
from django.db import transaction
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_decode, urlsafe_base64_encode
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError, Stale, WrongState
from fleet.core.permission import require
from fleet.models import Member, Newcomer, Organisation, User

when_membership_changes: list[Callable[[Member], None]] = []
"""Called with the member, in the same transaction, when somebody comes in or gets another role."""

when_a_link_is_wanted: list[Callable[[Member | Newcomer, Member], None]] = []
"""Called with whom it is for and who asked, in the same transaction: a one-time link is to be mailed."""


@dataclass(frozen=True)
class Invitation:
    """The two parts of a link with which a person sets a password. Good for one use; kept nowhere."""

    uid: str
    secret: str


def change(*, person: Member, role: str, active: bool, mail: bool, member: Member) -> Member:
    """Give a person another role, switch them off or on, choose whether they get mail; return them.

    Nobody changes their own role or switches themselves off, and one active owner always stays.
    Raises NotAllowed; FleetError on `role` or `active`.
    """
    if role not in Member.Role.values:
        raise FleetError(_("Choose a role."), field="role")
    with transaction.atomic():
        # one at a time: two owners must not take each other's role away at the same moment
        Organisation.objects.select_for_update().get(pk=member.organisation_id)
        member.refresh_from_db(fields=["role", "active"])
        require(member, "manage_people", _("manage people"), person)
        person = Member.objects.select_related("user").get(pk=person.pk)
        if person.pk == member.pk and (role != person.role or not active):
            raise FleetError(
                _("You can't change your own role or switch yourself off. Ask another owner."),
                field="role" if role != person.role else "active",
            )
        person.role, person.active, person.mail = role, active, mail
        person.save(update_fields=["role", "active", "mail"])
        if not Member.objects.active().filter(role=Member.Role.OWNER).exists():
            raise FleetError(_("This is the last owner. Make somebody else an owner first."), field="role")
        tell(person)
    return person


def choose_mail(*, member: Member, mail: bool) -> Member:
    """Let a member choose for themselves whether they get a digest by mail."""
    member.mail = mail
    member.save(update_fields=["mail"])
    return member


def choose_language(*, user: User, language: str, decimal_mark: str, days_written: str) -> User:
    """Let a person choose how to be spoken to, in all their organisations; "" leaves each open."""
    user.language, user.decimal_mark, user.days_written = language, decimal_mark, days_written
    user.save(update_fields=["language", "decimal_mark", "days_written"])
    return user


def mail_link(*, person: Member, member: Member) -> None:
    """Mail a person the one-time link with which they choose a new password; until then theirs stays.

    It goes to them alone: whoever held it would be them from then on, in every organisation they belong to.
    Raises NotAllowed; WrongState while the person is switched off or has no address.
    """
    require(member, "manage_people", _("manage people"), person)
    if not person.active or not person.user.is_active:
        raise WrongState(_("{person} may not sign in. Tick “May sign in” first.").format(person=person))
    if not person.user.email:
        said = _("{person} has no mail address. The operator of this installation can add one.")
        raise WrongState(said.format(person=person))
    with transaction.atomic():
        for send in when_a_link_is_wanted:
            send(person, member)


def invite(*, user: User) -> Invitation:
    """Make a link with which a person sets a password; it ends with its use or after some days.

    For the mail to that person, and for the operator's terminal.
    """
    return Invitation(urlsafe_base64_encode(force_bytes(user.pk)), default_token_generator.make_token(user))


def invited(*, uid: str, secret: str, lock: bool = False) -> User | None:
    """Return whose password the link may set; None when it is wrong, used or too old."""
    users = User.objects.select_for_update() if lock else User.objects.all()
    try:
        user = users.get(pk=int(urlsafe_base64_decode(uid)))
    except (ValueError, OverflowError, User.DoesNotExist):
        return None
    return user if user.is_active and default_token_generator.check_token(user, secret) else None


def accept(*, uid: str, secret: str, password: str) -> User:
    """Set the password of the person the link was made for; return them. Raises Stale when it has ended."""
    with transaction.atomic():
        user = invited(uid=uid, secret=secret, lock=True)
        if user is None:
            raise Stale(_("This link has been used or is too old. Ask for a new one."))
        user.set_password(password)
        user.save(update_fields=["password"])
    return user


def tell(person: Member) -> None:
    """Say that this membership began or changed, to whoever keeps something by it."""
    for told in when_membership_changes:
        told(person)
