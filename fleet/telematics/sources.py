"""Telematics sources are entered, changed and asked for."""

import re
from dataclasses import dataclass, replace
from urllib.parse import urlsplit

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.core.queue import publish_on_commit
from fleet.models import Member, TelematicsSource
from fleet.telematics import allowed_addresses, credentials
from fleet.telematics.snapshot import SnapshotRefused

LEAST_MINUTES, MOST_MINUTES = 5, 7 * 24 * 60
MOST_SILENT_DAYS = 365
NAMED = (TelematicsSource.Login.BASIC, TelematicsSource.Login.CLIENT)  # logins with a name of their own
SCOPE = re.compile(r"[!#-\[\]-~]+( [!#-\[\]-~]+)*")  # RFC 6749, 3.3


@dataclass(frozen=True, kw_only=True)
class Source:
    """What a person says of a source.

    username: or the client id. secret: the password, token or client secret; '' keeps the one that is stored.
    token_url, scope: of a client.
    """

    name: str
    url: str
    login: str
    username: str = ""
    secret: str = ""
    token_url: str = ""
    scope: str = ""
    every_minutes: int = 60
    silent_days: int = 7
    active: bool = True


def add(*, facts: Source, member: Member) -> TelematicsSource:
    """Enter a source; it is read at once. Raises NotAllowed; FleetError on the fact that can't be."""
    return _save(TelematicsSource(organisation_id=member.organisation_id), facts, member)


def change(*, source: TelematicsSource, facts: Source, member: Member) -> TelematicsSource:
    """Put new facts in the place of the old ones; it is read at once.

    A stored password or token goes to no other server than the one it was entered for: with another address
    or user name it must be entered again. Raises NotAllowed; FleetError on the fact that can't be.
    """
    with transaction.atomic():
        source = TelematicsSource.objects.select_for_update().get(pk=source.pk)
        return _save(source, facts, member)


def ask(*, source: TelematicsSource, member: Member) -> None:
    """Have the source read now. Raises NotAllowed; FleetError when it is switched off."""
    require(member, "manage_fleet", _("manage telematics"), source)
    if not source.active:
        raise FleetError(_("It is switched off. Switch it on first."))
    with transaction.atomic():
        TelematicsSource.objects.filter(pk=source.pk).update(next_try_at=timezone.now())
        publish_on_commit(
            "fleet.tasks.read_telematics", organisation_id=source.organisation_id, source_id=source.pk
        )


def _save(source: TelematicsSource, facts: Source, member: Member) -> TelematicsSource:
    require(member, "manage_fleet", _("manage telematics"), source)
    facts = _checked(facts)
    secret = _secret(source, facts)
    said = _("Another source is called {name}. Choose another name.").format(name=facts.name)
    taken = FleetError(said, field="name")
    if TelematicsSource.objects.exclude(pk=source.pk).filter(name=facts.name).exists():
        raise taken
    source.name, source.url, source.every_minutes = facts.name, facts.url, facts.every_minutes
    source.silent_days = facts.silent_days
    source.login, source.active, source.secret = facts.login, facts.active, secret
    source.username = facts.username if facts.login in NAMED else ""
    of_client = facts.login == TelematicsSource.Login.CLIENT
    source.token_url, source.scope = (facts.token_url, facts.scope) if of_client else ("", "")
    source.failures, source.next_try_at = 0, timezone.now()
    try:
        with transaction.atomic():
            source.save()
    except IntegrityError:
        raise taken from None
    if source.active:
        ask(source=source, member=member)
    return source


def _checked(facts: Source) -> Source:
    words = ("name", "url", "username", "token_url", "scope")
    facts = replace(facts, **{word: getattr(facts, word).strip() for word in words})
    if not facts.name:
        raise FleetError(_("Give it a name, such as the provider's."), field="name")
    _check_address(facts.url, "url")
    if facts.login not in TelematicsSource.Login.values:
        raise FleetError(_("Choose how to log in."), field="login")
    if facts.login == TelematicsSource.Login.BASIC and not facts.username:
        raise FleetError(_("Give the user name."), field="username")
    if ":" in facts.username and facts.login == TelematicsSource.Login.BASIC:
        raise FleetError(
            _("Leave out the colon; a user name has none."), field="username"
        )  # RFC 7617, section 2
    if facts.login == TelematicsSource.Login.CLIENT:
        _check_client(facts)
    if not (facts.secret.isprintable() and facts.secret.isascii()) and facts.login == "bearer":
        raise FleetError(_("A token has no such characters. Copy it again."), field="secret")
    if not LEAST_MINUTES <= facts.every_minutes <= MOST_MINUTES:
        raise FleetError(
            _("Read it every 5 minutes at most, and once a week at least."), field="every_minutes"
        )
    if not 1 <= facts.silent_days <= MOST_SILENT_DAYS:
        raise FleetError(
            _("Give at least a day of silence, and at most a year."),
            field="silent_days",
        )
    return facts


def _check_client(facts: Source) -> None:
    if not facts.username:
        raise FleetError(_("Give the client id."), field="username")
    if not facts.token_url:
        raise FleetError(_("Give the address where the provider issues access tokens."), field="token_url")
    _check_address(facts.token_url, "token_url")
    if facts.scope and not SCOPE.fullmatch(facts.scope):
        raise FleetError(_("A scope has no such characters. Copy it again."), field="scope")


def _check_address(url: str, field: str) -> None:
    try:
        allowed_addresses.parts_of(url, plain=settings.TELEMATICS_INSIDE)
    except SnapshotRefused as error:
        raise FleetError(error.sentence, field=field) from None


def _secret(source: TelematicsSource, facts: Source) -> str:
    """The secret to keep, encrypted. Raises FleetError on `secret`."""
    if facts.login == TelematicsSource.Login.NONE:
        return ""
    if facts.secret:
        return credentials.lock(facts.secret)
    if not source.secret:
        raise FleetError(_("Enter the password, token or client secret."), field="secret")
    if _goes_to(source) != _goes_to(facts):
        raise FleetError(_("The address or user name has changed. Enter the password again."), field="secret")
    return source.secret


def _goes_to(facts: Source | TelematicsSource) -> tuple[object, ...]:
    """Where a secret, or the token it is given for, is sent, and in whose name."""
    origins = [allowed_addresses.origin_of(urlsplit(facts.url))]
    if facts.login == TelematicsSource.Login.CLIENT:
        origins.append(allowed_addresses.origin_of(urlsplit(facts.token_url)))
    return origins, facts.login, facts.username if facts.login in NAMED else ""
