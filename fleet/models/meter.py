"""Hour meters and what was read from them."""

from datetime import datetime
from functools import partial
from typing import Any, ClassVar

from django.db import models
from django.db.models import F, OuterRef, Q, Subquery
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy
from django_scopes import scopes_disabled

from fleet.models.base import OrganisationManager, OrganisationOwned
from fleet.models.fields import HoursField
from fleet.models.machine import Machine
from fleet.usage import figures

unindexed = partial(models.ForeignKey, db_index=False)


class MeterSegment(OrganisationOwned):
    """The life of one hour meter on a machine: total hours are what it shows plus `offset`."""

    class Began(models.TextChoices):
        ORIGINAL = "original", _("First meter")
        REPLACED = "replaced", _("Meter replaced")
        ROLLED_OVER = "rolled over", _("Meter rolled over")

    machine = models.ForeignKey(
        Machine, verbose_name=_("machine"), on_delete=models.CASCADE, related_name="segments"
    )
    began = models.CharField(_("how it began"), max_length=12, choices=Began.choices, default=Began.ORIGINAL)
    started_at = models.DateTimeField(_("started at"))
    ended_at = models.DateTimeField(_("ended at"), null=True, blank=True)
    shows_at_start = HoursField(
        _("shown at the start"), default=0, help_text=_("What the meter showed when it began.")
    )
    offset = HoursField(_("offset"), default=0, help_text=_("Total hours = what the meter shows + this."))
    recorded_by = models.ForeignKey(
        "fleet.Member", verbose_name=_("recorded by"), on_delete=models.SET_NULL, null=True, related_name="+"
    )
    recorded_at = models.DateTimeField(_("recorded at"), default=timezone.now, editable=False)
    note = models.TextField(_("note"), blank=True)

    class Meta:
        verbose_name = _("meter")
        verbose_name_plural = _("meters")
        ordering = ["started_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["machine"], condition=Q(ended_at=None), name="one_meter_running"),
            models.CheckConstraint(
                condition=Q(ended_at=None) | Q(ended_at__gte=F("started_at")),
                name="meter_ends_after_it_began",
            ),
        ]

    def __str__(self) -> str:
        return _("{machine} from {day}").format(machine=self.machine, day=f"{self.started_at:%Y-%m-%d}")


class ReadingQuerySet(models.QuerySet):
    def counted(self) -> "ReadingQuerySet":
        """Readings that make up the machine's history."""
        return self.filter(state=Reading.State.COUNTED)

    def earliest_first(self) -> "ReadingQuerySet":
        """In the order of a machine's history, as the index of it lies."""
        return self.order_by("taken_at", "hours")

    def latest_first(self) -> "ReadingQuerySet":
        """In the order of a machine's history, backwards."""
        return self.order_by("-taken_at", "-hours")

    def before(self, moment: datetime | OuterRef) -> "ReadingQuerySet":
        """Those taken before a moment, the nearest first."""
        return self.filter(taken_at__lt=moment).latest_first()

    def by(self, moment: datetime | OuterRef) -> "ReadingQuerySet":
        """Those taken before a moment or at it, the nearest first."""
        return self.filter(taken_at__lte=moment).latest_first()

    def after(self, moment: datetime | OuterRef) -> "ReadingQuerySet":
        """Those taken after a moment, the nearest first."""
        return self.filter(taken_at__gt=moment).earliest_first()

    def ids_around(self, moment: datetime | OuterRef, name: object) -> dict[str, Subquery]:
        """Return as annotations the ids of the last by a moment, `by_NAME`, and of the next, `after_NAME`."""
        sides = {"by": self.by(moment), "after": self.after(moment)}
        return {f"{side}_{name}": Subquery(nearest.values("pk")[:1]) for side, nearest in sides.items()}

    def held(self) -> "ReadingQuerySet":
        """Readings that wait for a person, oldest first."""
        return self.filter(state=Reading.State.HELD).order_by("taken_at", "pk")

    def open_to_doubt(self) -> "ReadingQuerySet":
        """Held readings that count by themselves once they fit. One whose clock is wrong never does, nor one
        that its sender left in doubt.
        """
        return self.held().exclude(code__in=(*Reading.CLOCK_CODES, Reading.IN_DOUBT))


class Reading(OrganisationOwned):
    """What a meter showed at a moment. A reading is never deleted, and its figures never change.

    Each index is paid for by every reading that comes in, so there is none that only a deletion would ask:
    nothing a reading points to is ever deleted either.
    """

    CLOCK_CODES = ("from_future", "clock_off")  # held for their time, not for their figure
    IN_DOUBT = "in_doubt"  # the sender said two things of one moment

    class State(models.TextChoices):
        COUNTED = "counted", _("Counted")
        HELD = "held", _("Held")
        DISCARDED = "discarded", _("Discarded")

    class Source(models.TextChoices):
        PAGE = "page", pgettext_lazy("source of a reading", "Page")
        API = "api", "API"
        FILE = "file", _("File")
        GATE = "gate", _("Gate")
        ORDER = "order", _("Work order")
        PHONE = "phone", _("Phone")
        TELEMATICS = "telematics", _("Telematics")
        MACHINE = "machine", _("Entry of the machine")
        METER = "meter", _("Change of the meter")
        CORRECTION = "correction", _("Correction")

    organisation = unindexed(
        "fleet.Organisation", verbose_name=_("organisation"), on_delete=models.CASCADE, related_name="+"
    )
    machine = unindexed(Machine, verbose_name=_("machine"), on_delete=models.CASCADE, related_name="readings")
    segment = unindexed(
        MeterSegment, verbose_name=_("meter"), on_delete=models.PROTECT, related_name="readings"
    )
    taken_at = models.DateTimeField(_("taken at"))
    shows = HoursField(_("shown by the meter"), help_text=_("What the meter showed."))
    hours = HoursField(_("hours"), help_text=_("Total hours: what it showed plus the meter's offset."))
    state = models.CharField(_("state"), max_length=10, choices=State.choices)
    code = models.CharField(
        _("code"), max_length=20, help_text=_("Why it was held, as a short code; 'ok' when plausible.")
    )
    reason = models.TextField(_("reason"), blank=True, help_text=_("Why it was held, for a person."))
    suggestion = HoursField(
        _("suggestion"), null=True, blank=True, help_text=_("What the meter likely showed.")
    )
    suggested_at = models.DateTimeField(
        _("suggested time"),
        null=True,
        blank=True,
        help_text=_("When it was likely read, where the sender's clock is off."),
    )

    source = models.CharField(
        _("source"), max_length=10, choices=Source.choices, help_text=_("What kind of sender it was.")
    )
    sender = models.CharField(
        _("sender"),
        max_length=80,
        blank=True,
        help_text=_("Which of that kind: the token or member, file, order's number or telematics source."),
    )
    client_id = models.CharField(  # noqa: DJ001 (null: none was given; only given ids are unique)
        _("sender's own id"),
        max_length=80,
        null=True,
        blank=True,
        help_text=_("The sender's own id for it."),
    )
    taken_by = unindexed(
        "fleet.Member",
        verbose_name=_("taken by"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
    )
    token = unindexed(
        "fleet.ApiToken",
        verbose_name=_("token"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
    )
    received_at = models.DateTimeField(_("received at"), default=timezone.now, editable=False)
    note = models.TextField(_("note"), blank=True)

    decided_by = unindexed(
        "fleet.Member",
        verbose_name=_("decided by"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
    )
    decided_at = models.DateTimeField(_("decided at"), null=True, blank=True)
    decision = models.TextField(_("decision"), blank=True, help_text=_("What the person who decided said."))
    corrects = unindexed(
        "self",
        verbose_name=_("corrects"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="corrections",
    )

    objects: ClassVar = OrganisationManager.from_queryset(ReadingQuerySet)()

    class Meta:
        verbose_name = _("reading")
        verbose_name_plural = _("readings")
        ordering = ["-taken_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["machine", "taken_at", "shows"], name="reading_once"),
            models.UniqueConstraint(
                fields=["corrects"], condition=Q(state="counted"), name="one_correction_stands"
            ),
            models.UniqueConstraint(
                fields=["organisation", "source", "sender", "client_id"],
                condition=Q(client_id__isnull=False),
                name="reading_client_id_once",
            ),
            models.CheckConstraint(condition=Q(shows__gte=0), name="reading_not_negative"),
            models.CheckConstraint(condition=~Q(state="held") | ~Q(reason=""), name="held_reading_says_why"),
        ]
        indexes = [
            models.Index(
                fields=["machine", "taken_at", "hours"], condition=Q(state="counted"), name="reading_history"
            ),
            models.Index(fields=["organisation", "taken_at"], condition=Q(state="held"), name="reading_held"),
            models.Index(fields=["organisation", "-taken_at", "-id"], name="reading_listed"),
            models.Index(fields=["token", "id"], condition=Q(token__isnull=False), name="reading_of_device"),
            models.Index(fields=["corrects"], condition=Q(corrects__isnull=False), name="reading_corrects"),
        ]

    @staticmethod
    def history(**machine: Any) -> ReadingQuerySet:
        """The counted readings of a machine, which the caller has found in the organisation.

        Without the organisation's own condition: by that the database may choose to walk all of the
        organisation's readings instead of the machine's.
        """
        with scopes_disabled():
            return Reading.objects.counted().filter(**machine)

    def __str__(self) -> str:
        return _("{machine}: {shows} h at {moment}").format(
            machine=self.machine,
            shows=figures.marked(str(self.shows)),
            moment=f"{self.taken_at:%Y-%m-%d %H:%M}",
        )

    @property
    def sent_by(self) -> str:
        """Who or what sent it, in a word: a person or token first, else what its source calls it."""
        of_order = self.source == self.Source.ORDER
        sender = _("order {number}").format(number=self.sender) if of_order else self.sender
        return str(self.taken_by or self.token or sender or _("nobody named"))

    @property
    def corrected_by(self) -> "Reading | None":
        """The reading that stands in its place; None when none does."""
        if self.state != self.State.DISCARDED:
            return None
        return self.corrections.exclude(state=self.State.DISCARDED).select_related("machine").first()
