"""Hours as a phone at the machine sends them: often late, often twice, and the photo after the reading."""

from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django_scopes import scope

from fleet.core.errors import FleetError, WrongState
from fleet.core.permission import require_own
from fleet.core.photos import checked_photo, kept_already
from fleet.core.sticker_codes import read_code
from fleet.models import Machine, Member, Reading, ReadingPhoto
from fleet.readings import door
from fleet.readings.submission import (
    DUPLICATE,
    REFUSED,
    Receipt,
    Submitted,
    Unreadable,
    read_hours,
    read_moment,
)

SENDER = "phone"
ONE_LOOK = timedelta(minutes=5)  # two people who see one figure on one meter within this time say one thing


def enter(
    *,
    member: Member,
    machine: int | None,
    code: str = "",
    taken_at: object,
    shows: object,
    client_id: str,
    note: str = "",
    now: datetime | None = None,
) -> Receipt:
    """Take in one entry of a phone; return its receipt: counted, held or duplicate.

    machine: the id the phone knows, None where it only knows the sticker's `code`. client_id: the phone's own
    id of the entry; sent again it changes nothing. The same figure of the same machine, read within five
    minutes, is one reading, whoever sends it. Raises FleetError for what can't be kept at all.
    """
    with scope(organisation=member.organisation), transaction.atomic():
        found = _machine(member, machine, code)
        if found and (known := _same_look(found, taken_at, shows)):
            return Receipt(
                DUPLICATE,
                "duplicate",
                _("This was sent already."),
                known.pk,
                client_id=client_id or None,
            )
        (receipt,) = door.take(
            organisation=member.organisation,
            rows=[Submitted(found.pk if found else machine, taken_at, shows, client_id or None, note)],
            source=Reading.Source.PHONE,
            sender=SENDER,
            member=member,
            now=now,
        )
    if receipt.state == REFUSED:
        raise FleetError(receipt.reason, field=_field(receipt.code))
    return receipt


def add_photo(*, reading: Reading, photo: Any, member: Member, now: datetime | None = None) -> ReadingPhoto:
    """Keep a photo of the meter with its reading; the same photo sent twice is kept once.

    Raises NotAllowed; FleetError on `photo`.
    """
    require_own(member, reading)
    checked = checked_photo(photo)
    with scope(organisation=member.organisation), transaction.atomic():
        Reading.objects.select_for_update().get(pk=reading.pk)
        return kept_already(reading.photos.all(), checked) or ReadingPhoto.objects.create(
            organisation_id=reading.organisation_id,
            reading=reading,
            image=checked,
            taken_by=member,
            received_at=now or timezone.now(),
        )


def speaks_for(*, member: Member, entered_by: int) -> None:
    """Make sure that the one signed in is the one who entered it. Raises WrongState.

    A phone goes from hand to hand: what one person read never goes out under another's name.
    """
    if entered_by != member.pk:
        said = _("This was entered by somebody else; {member} is signed in now.")
        raise WrongState(said.format(member=member))


def _machine(member: Member, pk: int | None, code: str) -> Machine | None:
    """The machine, locked until the transaction ends, so that two phones wait for each other."""
    own = Machine.objects.visible_to(member).select_for_update(of=("self",))
    if pk is not None:
        return own.filter(pk=pk).first() if 0 < pk < 2**63 else None
    found = own.filter(code=read_code(code)).first()
    if found is None:
        raise FleetError(
            _(
                "No machine here has this sticker's code; the sticker may be out of date. "
                "Look for the machine's fleet number and enter the hours there."
            ),
            field="code",
        )
    return found


def _same_look(machine: Machine, taken_at: object, shows: object) -> Reading | None:
    """A reading of this machine and figure from about that moment that hasn't been discarded."""
    try:
        figure, moment = read_hours(shows), read_moment(taken_at)
    except Unreadable:
        return None
    near = Reading.objects.filter(
        machine=machine, shows=figure, taken_at__range=(moment - ONE_LOOK, moment + ONE_LOOK)
    )
    return near.exclude(state=Reading.State.DISCARDED).order_by("taken_at").first()


def _field(code: str) -> str:
    if "time" in code:
        return "taken_at"
    return "shows" if "hours" in code or code == "negative" else "machine"
