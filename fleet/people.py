"""People come into an organisation, change their role and leave it; passwords are set by one-time links."""

from collections.abc import Callable
from dataclasses import dataclass

from django.contrib.auth.tokens import default_token_generator
from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_decode, urlsafe_base64_encode
from django_scopes import scopes_disabled

from fleet.errors import FleetError, NotAllowed, Stale, WrongState
from fleet.models import Member, Organisation, User

when_membership_changes: list[Callable[[Member], None]] = []
"""Called with the member, in the same transaction, when somebody comes in or gets another role."""


@dataclass(frozen=True)
class Invitation:
    """The two parts of a link with which a person sets a password. Good for one use; kept nowhere."""

    uid: str
    secret: str


def add(*, name: str, email: str, role: str, member: Member) -> Member:
    """Let a new person into the member's organisation; they sign in with their mail address.

    An address that signs in elsewhere is refused: only the operator, who can ask both sides, may join one
    sign-in to two organisations. Raises NotAllowed; FleetError on `name`, `email` or `role`.
    """
    _may(member)
    name, email = name.strip(), email.strip().lower()
    if not name:
        raise FleetError("Write the name the others know.", field="name")
    if role not in Member.Role.values:
        raise FleetError("Choose a role.", field="role")
    known = User.objects.filter(Q(username__iexact=email) | Q(email__iexact=email))
    if here := Member.objects.filter(user__in=known).select_related("user").first():
        again = "" if here.active else "; switch them on again instead"
        raise FleetError(f"{here} has this address and is in the list already{again}.", field="email")
    taken = FleetError(
        "This address signs in to another organisation here. Use another one, or ask the operator of this "
        "installation to let it into yours as well.",
        field="email",
    )
    if known.exists():
        raise taken
    try:
        with transaction.atomic():
            user = User(username=email, email=email, first_name=name)
            user.set_unusable_password()
            user.save()
            entered = Member.objects.create(organisation=member.organisation, user=user, role=role)
            _tell(entered)
            return entered
    except IntegrityError:
        raise taken from None


def change(*, person: Member, role: str, active: bool, mail: bool, member: Member) -> Member:
    """Give a person another role, switch them off or on, choose whether they get mail; return them.

    Nobody changes their own role or switches themselves off, and one active owner always stays.
    Raises NotAllowed; FleetError on `role` or `active`.
    """
    if role not in Member.Role.values:
        raise FleetError("Choose a role.", field="role")
    with transaction.atomic():
        # one at a time: two owners must not take each other's role away at the same moment
        Organisation.objects.select_for_update().get(pk=member.organisation_id)
        member.refresh_from_db(fields=["role", "active"])
        _may(member, person)
        person = Member.objects.select_related("user").get(pk=person.pk)
        if person.pk == member.pk and (role != person.role or not active):
            raise FleetError(
                "You can't change your own role or switch yourself off; ask another owner.",
                field="role" if role != person.role else "active",
            )
        person.role, person.active, person.mail = role, active, mail
        person.save(update_fields=["role", "active", "mail"])
        if not Member.objects.active().filter(role=Member.Role.OWNER).exists():
            raise FleetError("This is the last owner; make somebody else an owner first.", field="role")
        _tell(person)
    return person


def choose_mail(*, member: Member, mail: bool) -> Member:
    """Let a member choose for themselves whether they get a digest by mail."""
    member.mail = mail
    member.save(update_fields=["mail"])
    return member


def invite(*, person: Member, member: Member) -> Invitation:
    """Make a link with which the person sets a new password; it ends with its use or after some days.

    Raises NotAllowed, also for a person whose password opens more than this organisation; WrongState while
    the person is switched off.
    """
    _may(member, person)
    if not person.active or not person.user.is_active:
        raise WrongState(f"{person} is switched off; switch them on first.")
    with scopes_disabled():  # a sign-in may belong to several organisations
        elsewhere = Member.objects.filter(user=person.user).exclude(pk=person.pk).exists()
    if elsewhere or person.user.is_staff or person.user.is_superuser:
        raise NotAllowed(f"{person} signs in elsewhere too; only the operator resets this password.")
    return Invitation(
        urlsafe_base64_encode(force_bytes(person.user_id)), default_token_generator.make_token(person.user)
    )


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
            raise Stale("This link was used already or is too old; ask for a new one.")
        user.set_password(password)
        user.save(update_fields=["password"])
    return user


def _tell(person: Member) -> None:
    for told in when_membership_changes:
        told(person)


def _may(member: Member, *people: Member) -> None:
    if not member.rights.manage_people:
        raise NotAllowed("Your role does not manage people.")
    if any(person.organisation_id != member.organisation_id for person in people):
        raise NotAllowed("This is not a member of your organisation.")
