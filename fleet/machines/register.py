"""Machines, their types and attachments are entered and changed."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext as _

from fleet import readings
from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.core.sticker_codes import new_code
from fleet.models import (
    Attachment,
    Fitment,
    Machine,
    MachineType,
    Member,
    MeterSegment,
    Reading,
    Yard,
)
from fleet.models.machine import PIN, Category, WorkingCondition
from fleet.readings.propagation import hours_moved

LONGEST_FITMENT = Fitment._meta.get_field("code").max_length or 0
WEIGHTY = ("type", "yard", "in_service_on", "condition")
"""Facts on which the marks and days of a machine's duties depend; its fitments are one more."""


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What is known of a machine besides its hours. price: in the organisation's currency."""

    type: MachineType
    yard: Yard
    tag: str
    in_service_on: date
    serial: str = ""
    pin: str = ""
    price: Decimal | None = None
    condition: str = WorkingCondition.NORMAL
    for_hire: bool = False
    note: str = ""


def register(
    *,
    facts: Facts,
    member: Member,
    fitments: Collection[Fitment] = (),
    hours_at_start: Decimal | None = None,
) -> Machine:
    """Enter a machine with its first hour meter; return it.

    hours_at_start: what the meter showed when it began work here; None when that isn't known. When known it
    becomes the first counted reading, at the start of that day in the yard.
    Raises NotAllowed; FleetError on the fact that can't be.
    """
    require(member, "manage_fleet", _("change machines"), facts.type, facts.yard, *fitments)
    facts = _checked(facts, attachment=False)
    start = _start_of(facts.in_service_on, facts.yard)
    with transaction.atomic():
        machine = Machine(organisation_id=member.organisation_id, hours=hours_at_start or 0)
        _write(machine, facts)
        machine.fitments.set(fitments)
        MeterSegment.objects.create(
            organisation_id=member.organisation_id,
            machine=machine,
            started_at=start,
            shows_at_start=hours_at_start or 0,
            recorded_by=member,
        )
        if hours_at_start is None:
            hours_moved({machine.pk: machine}, now=timezone.now())
        else:
            _first_reading(machine, start, hours_at_start, member)
    return machine


def change(*, machine: Machine, facts: Facts, member: Member, fitments: Collection[Fitment] = ()) -> Machine:
    """Put new facts in the place of a machine's old ones; duties that depend on them are projected again.

    Raises NotAllowed; FleetError on the fact that can't be.
    """
    require(member, "manage_fleet", _("change machines"), machine, facts.type, facts.yard, *fitments)
    facts = _checked(facts, attachment=machine.is_attachment)
    with transaction.atomic():
        machine = Machine.objects.select_for_update().get(pk=machine.pk)
        if machine.retired_on and facts.in_service_on > machine.retired_on:
            raise FleetError(
                _("It was retired before that day. Choose an earlier one."), field="in_service_on"
            )
        before = [getattr(machine, name) for name in WEIGHTY]
        fitted = set(machine.fitments.all())
        _write(machine, facts)
        machine.fitments.set(fitments)
        if before != [getattr(machine, name) for name in WEIGHTY] or fitted != set(fitments):
            hours_moved({machine.pk: machine}, now=timezone.now())
    return machine


def renew_code(*, machine: Machine, member: Member) -> Machine:
    """Give a machine a new code, for a sticker that was lost; the old code leads nowhere from now on.

    What a phone took in under the old code and hasn't sent yet still arrives: it names the machine itself.
    Raises NotAllowed.
    """
    require(member, "manage_fleet", _("change machines"), machine)
    with transaction.atomic():
        machine = Machine.objects.select_for_update().get(pk=machine.pk)
        machine.code = new_code()
        machine.save(update_fields=["code"])
    return machine


def register_type(
    *,
    maker: str,
    model: str,
    category: str,
    member: Member,
    fitments: Collection[Fitment] = (),
    new_fitments: Collection[str] = (),
) -> MachineType:
    """Enter a make and model; return it. new_fitments: names of fitments the organisation didn't have yet.

    Raises NotAllowed; FleetError on `maker`, `model` or `category`.
    """
    require(member, "manage_fleet", _("change machines"), *fitments)
    maker, model = maker.strip(), model.strip()
    if category not in Category.values:
        raise FleetError(_("Choose a category."), field="category")
    for name, value in (("maker", maker), ("model", model)):
        if not value:
            raise FleetError(_("Give it as it is on the machine's plate."), field=name)
    said = _("{maker} {model} is in the list already.").format(maker=maker, model=model)
    taken = FleetError(said, field="model")
    if MachineType.objects.filter(maker__iexact=maker, model__iexact=model).exists():
        raise taken
    try:
        with transaction.atomic():
            made = MachineType.objects.create(
                organisation_id=member.organisation_id, maker=maker, model=model, category=category
            )
            made.fitments.set([*fitments, *(_fitment(name, member) for name in new_fitments)])
    except IntegrityError:
        raise taken from None
    return made


def register_attachment(
    *,
    type: MachineType,
    yard: Yard,
    tag: str,
    in_service_on: date,
    member: Member,
    serial: str = "",
    hours_before: Decimal = Decimal(0),
) -> Attachment:
    """Enter an attachment; return it. hours_before: hours it had run when it came here.

    Raises NotAllowed; FleetError on the fact that can't be.
    """
    require(member, "manage_fleet", _("change machines"), type, yard)
    facts = _checked(
        Facts(type=type, yard=yard, tag=tag, in_service_on=in_service_on, serial=serial), attachment=True
    )
    if hours_before < 0:
        raise FleetError(_("Give 0 h or more."), field="hours_before")
    with transaction.atomic():
        attachment = Attachment(
            organisation_id=member.organisation_id, hours_before=hours_before, hours=hours_before
        )
        _write(attachment, facts)
        hours_moved({attachment.pk: attachment}, now=timezone.now())
    return attachment


def _checked(facts: Facts, *, attachment: bool) -> Facts:
    facts = replace(
        facts,
        tag=facts.tag.strip(),
        serial=facts.serial.strip(),
        pin=facts.pin.strip().upper(),
        note=facts.note.strip(),
    )
    if not facts.tag:
        raise FleetError(_("Give the fleet number painted on it."), field="tag")
    if facts.pin and not PIN.fullmatch(facts.pin):
        raise FleetError(_("A PIN has 17 letters and figures. Read the plate again."), field="pin")
    if facts.type.category == Category.ATTACHMENT and not attachment:
        raise FleetError(_("This model is an attachment. Add it under Attachments."), field="type")
    if facts.type.category != Category.ATTACHMENT and attachment:
        raise FleetError(_("This model is a machine. Choose an attachment's model."), field="type")
    if facts.condition not in WorkingCondition.values:
        raise FleetError(_("Choose the conditions it works in."), field="condition")
    if facts.in_service_on > facts.yard.today():
        raise FleetError(_("That day is in the future. Choose an earlier one."), field="in_service_on")
    if facts.price is not None and facts.price < 0:
        raise FleetError(_("Give a price of 0 or more."), field="price")
    return facts


def _write(machine: Machine, facts: Facts) -> None:
    """Save the machine with these facts. Raises FleetError when its tag or serial number is another's."""
    others = Machine.objects.exclude(pk=machine.pk)
    if others.filter(tag__iexact=facts.tag).exists():
        said = _("Another machine has the fleet number {tag}. Choose another.").format(tag=facts.tag)
        raise FleetError(said, field="tag")
    if facts.serial and (other := others.filter(serial=facts.serial).first()):
        said = _("{machine} has this serial number. Read the plate again.").format(machine=other)
        raise FleetError(said, field="serial")
    if facts.pin and (other := others.filter(pin=facts.pin).first()):
        said = _("{machine} has this identification number. Read the plate again.").format(machine=other)
        raise FleetError(said, field="pin")
    for name in Facts.__dataclass_fields__:
        setattr(machine, name, getattr(facts, name))
    try:
        with transaction.atomic():
            machine.save()
    except IntegrityError:
        raise FleetError(
            _("Somebody has just added a machine with one of these numbers. Check the list."), field="tag"
        ) from None


def _start_of(day: date, yard: Yard) -> datetime:
    return datetime.combine(day, time(), tzinfo=yard.zoneinfo)


def _first_reading(machine: Machine, at: datetime, shows: Decimal, member: Member) -> None:
    (receipt,) = readings.take(
        organisation=member.organisation,
        rows=[readings.Submitted(machine.pk, at, shows)],
        source=Reading.Source.MACHINE,
        sender="",
        member=member,
    )
    if receipt.state != Reading.State.COUNTED:
        raise FleetError(receipt.reason, field="hours_at_start")


def _fitment(name: str, member: Member) -> Fitment:
    """The organisation's fitment of that name, made when there is none."""
    code = slugify(name)
    if max(len(name), len(code)) > LONGEST_FITMENT:
        raise FleetError(
            _("“{name}” is too long for a fitment; use at most {most} characters.").format(
                name=name, most=LONGEST_FITMENT
            ),
            field="new_fitments",
        )
    if not code:
        said = _("{name} can't be the name of a fitment; use letters.").format(name=repr(name))
        raise FleetError(said, field="new_fitments")
    fitment, _made = Fitment.objects.get_or_create(
        organisation_id=member.organisation_id, code=code, defaults={"name": name}
    )
    return fitment
