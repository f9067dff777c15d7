"""Machines and the types they are of."""

import re
from collections.abc import Collection
from datetime import date, datetime
from decimal import Decimal
from functools import reduce
from operator import and_
from typing import ClassVar, cast
from zoneinfo import ZoneInfo

from django.db import models
from django.db.models import Exists, OuterRef, Q, Subquery
from django.db.models.functions import Lower
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.core.squeezed import forms, squeeze, squeezed
from fleet.core.sticker_codes import new_code, read_code
from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.fields import HoursField, MoneyField
from fleet.models.organisation import Member, Yard

PIN = re.compile(r"[A-Z0-9]{17}", re.ASCII)
"""A product identification number by ISO 10261, as far as its form tells."""

STICKER_PART = 4  # figures of a sticker's code that are searched for
LONGEST_SEARCH = 80  # characters; each word is looked for in several places


class Category(models.TextChoices):
    """Kinds of hour-metered equipment, as the trade names them."""

    COMPACT_TRACTOR = "compact-tractor", _("Compact tractor")
    TRACTOR = "tractor", _("Tractor")
    SKID_STEER = "skid-steer", _("Skid-steer loader")
    ZERO_TURN_MOWER = "zero-turn-mower", _("Zero-turn mower")
    MINI_EXCAVATOR = "mini-excavator", _("Mini-excavator")
    GENERATOR = "generator", _("Generator")
    TELEHANDLER = "telehandler", _("Telehandler")
    COMPRESSOR = "compressor", _("Air compressor")
    LIGHT_TOWER = "light-tower", _("Light tower")
    OTHER = "other", pgettext_lazy("category of machine", "Other")
    ATTACHMENT = "attachment", _("Attachment")


class WorkingCondition(models.TextChoices):
    """Where a machine works; some intervals are shorter in hard conditions."""

    NORMAL = "normal", _("Normal")
    DUST = "dust", _("Dust")
    WET = "wet", _("Wet")
    HEAVY = "heavy", _("Heavy load")


class Fitment(OrganisationOwned):
    """Something a machine may be fitted with and that needs service of its own: a cab, a soot filter."""

    code = models.SlugField(_("code"))
    name = models.CharField(_("name"), max_length=80)

    class Meta:
        verbose_name = _("fitment")
        verbose_name_plural = _("fitments")
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["organisation", "code"], name="fitment_code_once")]

    def __str__(self) -> str:
        return self.name


class MachineType(OrganisationOwned):
    """A make and model."""

    maker = models.CharField(_("maker"), max_length=80)
    model = models.CharField(_("model"), max_length=80)
    category = models.CharField(_("category"), max_length=20, choices=Category.choices)
    fitments = models.ManyToManyField(
        Fitment,
        verbose_name=_("fitments"),
        blank=True,
        help_text=_("What a machine of this type may be fitted with."),
    )

    class Meta:
        verbose_name = _("machine type")
        verbose_name_plural = _("machine types")
        ordering = ["maker", "model"]
        constraints = [
            models.UniqueConstraint("organisation", Lower("maker"), Lower("model"), name="machine_type_once"),
        ]

    def __str__(self) -> str:
        return f"{self.maker} {self.model}"


class MachineQuerySet(models.QuerySet):
    def visible_to(self, member: Member) -> "MachineQuerySet":
        """The machines a member may see: those of the member's organisation."""
        return self.filter(organisation_id=member.organisation_id)

    def in_service(self) -> "MachineQuerySet":
        """Machines that haven't been retired."""
        return self.filter(retired_on=None)

    def with_state(self) -> "MachineQuerySet":
        """Add `is_tagged_out` and `is_on_hire`, which `Machine.state` then reads without a query."""
        from fleet.models.hire import Hire
        from fleet.models.tagout import TagOut

        return self.annotate(
            is_tagged_out=Exists(TagOut.objects.open().filter(machine=OuterRef("pk"))),
            is_on_hire=Exists(Hire.objects.open().filter(machine=OuterRef("pk"))),
        )

    def in_state(self, state: str) -> "MachineQuerySet":
        """Machines whose gravest state is this one, as `Machine.state` tells it."""
        machines = self.with_state()
        if state == Machine.State.RETIRED:
            return machines.exclude(retired_on=None)
        machines = machines.filter(retired_on=None)
        if state == Machine.State.TAGGED_OUT:
            return machines.filter(is_tagged_out=True)
        machines = machines.filter(is_tagged_out=False)
        if state == Machine.State.IN_SHOP:
            return machines.exclude(in_shop_since=None)
        return machines.filter(in_shop_since=None, is_on_hire=state == Machine.State.ON_HIRE)

    def called(self, name: str) -> "Machine | None":
        """Return the one machine with this fleet number, in any case; else the one it is without its hyphens
        and blanks. None where there is none, or several that differ only in these.
        """
        found = list(self.filter(tag__iexact=name.strip())[:1])
        if not found and squeeze(name):
            found = list(self.annotate(tag_squeezed=squeezed("tag")).filter(tag_squeezed__in=forms(name))[:2])
        return cast("Machine", found[0]) if len(found) == 1 else None

    def searched(self, typed: str) -> "MachineQuerySet":
        """Machines that a person may mean: by fleet number, serial number, PIN or sticker, hyphens and blanks
        left out; by maker, model, yard, who has it on hire, or for whom it is booked.

        What was typed is found as a whole, or each of its words.
        """
        from fleet.models.calendar import Booking
        from fleet.models.hire import Hire

        numbers = {f"{name}_squeezed": squeezed(name) for name in ("tag", "serial", "pin")}
        here = OuterRef("pk")

        def written(text: str) -> Q:
            asked = forms(text) - {""}
            return Q(*((f"{name}__contains", each) for name in numbers for each in asked), _connector=Q.OR)

        def means(word: str) -> Q:
            by_name = Q(type__maker__icontains=word) | Q(type__model__icontains=word)
            by_place = Q(yard__name__icontains=word)
            customer = Exists(Hire.objects.open().filter(machine=here, hirer__icontains=word))
            booked = Exists(Booking.objects.standing().filter(machine=here, what__icontains=word))
            return written(word) | by_name | by_place | customer | booked

        def on_sticker() -> Q:
            code = read_code(typed)
            return Q(code__contains=code) if len(code) >= STICKER_PART else Q()

        if not (words := typed.split()):
            return self
        every_word = reduce(and_, (means(word) for word in words))
        return self.annotate(**numbers).filter(written(typed) | on_sticker() | every_word)

    def metered(self) -> "MachineQuerySet":
        """Machines with a meter of their own: all but the attachments, which run with their hosts."""
        return self.exclude(type__category=Category.ATTACHMENT)

    def with_host(self) -> "MachineQuerySet":
        """Add `host_id` and `host_tag`: of the machine an attachment hangs on now, None for all others."""
        from fleet.models.attachment import Mounting

        mounting = Mounting.objects.open().filter(attachment=OuterRef("pk"))
        return self.annotate(
            host_id=Subquery(mounting.values("machine")[:1]),
            host_tag=Subquery(mounting.values("machine__tag")[:1]),
        )

    def awaiting_projection(self) -> "MachineQuerySet":
        """Machines whose hours, program or condition moved since their duties were last projected."""
        return self.exclude(projection_wanted_at=None)


class Machine(OrganisationOwned):
    """One hour-metered machine. `hours` are total hours of running over all its meters.

    What moves with each reading is in no index: PostgreSQL can then rewrite a row without its indexes, for
    which its pages are kept half empty (migration 0002).
    """

    class State(models.TextChoices):
        READY = "ready", _("Ready")
        ON_HIRE = "out on hire", _("Out on hire")
        IN_SHOP = "in the shop", _("In the shop")
        TAGGED_OUT = "tagged out", _("Tagged out")
        RETIRED = "retired", pgettext_lazy("machine", "Retired")

    type = models.ForeignKey(
        MachineType, verbose_name=_("type"), on_delete=models.PROTECT, related_name="machines"
    )
    yard = models.ForeignKey(
        "fleet.Yard", verbose_name=_("yard"), on_delete=models.PROTECT, related_name="machines"
    )
    tag = models.CharField(
        _("fleet number"),
        max_length=30,
        help_text=_("The fleet number painted on it; short and unique in the organisation."),
    )
    code = models.CharField(
        pgettext_lazy("code of a sticker", "code"),
        max_length=8,
        unique=True,
        default=new_code,
        editable=False,
        help_text=_("What its sticker says."),
    )
    serial = models.CharField(_("serial number"), max_length=60, blank=True)
    pin = models.CharField(
        _("product identification number"),
        max_length=17,
        blank=True,
        help_text=_("The 17 letters and figures of ISO 10261 on its plate, in capitals."),
    )
    in_service_on = models.DateField(
        _("in service since"), help_text=_("Day it began work here; calendar intervals run from it.")
    )
    retired_on = models.DateField(_("retired on"), null=True, blank=True)
    price = MoneyField(_("price"), null=True, blank=True, help_text=_("What it cost to buy."))
    condition = models.CharField(
        _("working condition"),
        max_length=10,
        choices=WorkingCondition.choices,
        default=WorkingCondition.NORMAL,
    )
    fitments = models.ManyToManyField(Fitment, verbose_name=_("fitments"), blank=True)
    for_hire = models.BooleanField(
        _("for hire"), default=False, help_text=_("Goes out through the gate to hirers.")
    )
    note = models.TextField(_("note"), blank=True)

    hours = HoursField(
        _("hours"), default=0, editable=False, help_text=_("Total hours at the last counted reading.")
    )
    hours_at = models.DateTimeField(_("hours read at"), null=True, editable=False)
    in_shop_since = models.DateTimeField(_("in the shop since"), null=True, editable=False)
    projection_wanted_at = models.DateTimeField(_("new forecast wanted at"), null=True, editable=False)

    objects: ClassVar = OrganisationManager.from_queryset(MachineQuerySet)()

    class Meta:
        verbose_name = _("machine")
        verbose_name_plural = _("machines")
        ordering = ["tag"]
        constraints = [
            models.UniqueConstraint("organisation", Lower("tag"), name="machine_tag_once"),
            models.UniqueConstraint(
                fields=["organisation", "serial"], condition=~Q(serial=""), name="machine_serial_once"
            ),
            models.UniqueConstraint(
                fields=["organisation", "pin"], condition=~Q(pin=""), name="machine_pin_once"
            ),
            models.CheckConstraint(condition=Q(hours__gte=0), name="machine_hours_not_negative"),
            models.CheckConstraint(
                condition=Q(condition__in=WorkingCondition.values), name="machine_condition_known"
            ),
        ]

    def __str__(self) -> str:
        return self.tag

    def get_absolute_url(self) -> str:
        return reverse("machine", args=[self.pk])

    @property
    def is_attachment(self) -> bool:
        """Whether it is an attachment: it has no meter and runs the hours of the machine it hangs on."""
        return self.type.category == Category.ATTACHMENT

    @property
    def meter_shows(self) -> Decimal | None:
        """What its running meter showed at the last counted reading; None without a meter or a reading.

        Asks for the meter.
        """
        running = self.segments.filter(ended_at=None).first() if self.hours_at else None
        return self.hours - running.offset if running else None

    @property
    def zoneinfo(self) -> ZoneInfo:
        """The zone of the machine's yard."""
        return self.yard.zoneinfo

    def today(self, at: datetime | None = None) -> date:
        """Return the day it is at the machine's yard."""
        return self.yard.today(at)

    @property
    def state(self) -> "Machine.State":
        """What it can be used for now; the gravest state wins."""
        if self.retired_on:
            return self.State.RETIRED
        tagged_out = getattr(self, "is_tagged_out", None)
        if tagged_out is None:
            tagged_out = self.tag_outs.open().exists()
        if tagged_out:
            return self.State.TAGGED_OUT
        if self.in_shop_since:
            return self.State.IN_SHOP
        on_hire = getattr(self, "is_on_hire", None)
        if on_hire is None:
            on_hire = self.hires.open().exists()
        return self.State.ON_HIRE if on_hire else self.State.READY


def share_yards_and_types(machines: Collection[Machine]) -> None:
    """Give machines their yards, with the organisation, and their types: few of them serve many machines.

    Two queries, and one object for all machines that have the same, where `select_related` makes one each.
    """
    yards = Yard.objects.select_related("organisation").in_bulk({machine.yard_id for machine in machines})
    types = MachineType.objects.in_bulk({machine.type_id for machine in machines})
    for machine in machines:
        machine.yard, machine.type = yards[machine.yard_id], types[machine.type_id]
