"""Telematics: servers that are asked for snapshots of the fleet, and the units they speak of."""

from datetime import datetime, timedelta
from typing import ClassVar

from django.db import models
from django.db.models import Case, Count, F, Q, When
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.models.base import OrganisationManager, OrganisationOwned

UNREAD = timedelta(days=1)  # a source that fails for so long stands on Today


class TelematicsSourceQuerySet(models.QuerySet):
    def due(self, now: datetime) -> "TelematicsSourceQuerySet":
        """Sources to be read by now that nobody is reading, the longest overdue first."""
        return self.filter(active=True, next_try_at__lte=now).free(now).order_by("next_try_at", "pk")

    def free(self, now: datetime) -> "TelematicsSourceQuerySet":
        """Sources nobody is reading; a reader that died counts as gone once its time is up."""
        return self.filter(Q(busy_until=None) | Q(busy_until__lte=now))

    def unread(self, now: datetime) -> "TelematicsSourceQuerySet":
        """Sources switched on that fail and have not been read for a day, the longest unread first."""
        late = Q(good_at=None) | Q(good_at__lte=now - UNREAD)
        return self.filter(late, active=True, failures__gt=0).order_by("good_at", "name")

    def with_counts(self) -> "TelematicsSourceQuerySet":
        """Add how many units are tied, wait and are ignored: `tied_count` and so on."""
        return self.annotate(
            tied_count=Count("units", filter=Q(units__machine__isnull=False)),
            waiting_count=Count("units", filter=Q(units__machine=None, units__ignored=False)),
            ignored_count=Count("units", filter=Q(units__ignored=True)),
        )


class TelematicsSource(OrganisationOwned):
    """A server that answers with a fleet snapshot by ISO/TS 15143-3."""

    class Login(models.TextChoices):
        NONE = "none", pgettext_lazy("sign-in at a server", "None")
        BASIC = "basic", _("User name and password")
        BEARER = "bearer", _("Access token")
        CLIENT = "client", _("Client id and secret (OAuth 2.0)")

    name = models.CharField(_("name"), max_length=80)
    url = models.URLField(_("address"), max_length=500)
    login = models.CharField(_("sign-in"), max_length=8, choices=Login.choices, default=Login.BASIC)
    username = models.CharField(_("user name"), max_length=200, blank=True, help_text=_("Or the client id."))
    secret = models.TextField(
        _("secret"), blank=True, help_text=_("The password, token or client secret, encrypted.")
    )
    token_url = models.URLField(_("token address"), max_length=500, blank=True)
    scope = models.CharField(
        _("scope"), max_length=300, blank=True, help_text=_("What a client asks its token for.")
    )
    every_minutes = models.PositiveIntegerField(_("minutes between tries"), default=60)
    silent_days = models.PositiveIntegerField(
        _("days of silence"),
        default=7,
        help_text=_("After so many days without a report a machine stands on Today."),
    )
    active = models.BooleanField(_("active"), default=True)

    next_try_at = models.DateTimeField(_("next try at"), default=timezone.now)
    busy_until = models.DateTimeField(_("busy until"), null=True, editable=False)
    tried_at = models.DateTimeField(_("tried at"), null=True, editable=False)
    good_at = models.DateTimeField(_("last read at"), null=True, editable=False)
    outcome = models.TextField(
        _("outcome"), blank=True, editable=False, help_text=_("What the last good snapshot brought.")
    )
    units_seen = models.PositiveIntegerField(_("units seen"), default=0, editable=False)
    error = models.TextField(_("error"), blank=True, editable=False)
    error_at = models.DateTimeField(_("failed at"), null=True, editable=False)
    failures = models.PositiveIntegerField(
        _("failures"), default=0, editable=False, help_text=_("In a row, up to now.")
    )

    objects: ClassVar = OrganisationManager.from_queryset(TelematicsSourceQuerySet)()

    class Meta:
        verbose_name = _("telematics source")
        verbose_name_plural = _("telematics sources")
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "name"], name="telematics_source_name_once"),
            models.CheckConstraint(condition=Q(every_minutes__gte=5), name="telematics_not_too_often"),
            models.CheckConstraint(
                condition=~Q(login="client") | ~Q(token_url=""), name="telematics_client_has_token_address"
            ),
        ]
        indexes = [
            # fleet.tasks.look_for_telematics looks for these
            models.Index(fields=["next_try_at"], condition=Q(active=True), name="telematics_source_due"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def state(self) -> str:
        """`switched off`, `not read yet`, `failing` or `good`."""
        if not self.active:
            return "switched off"
        if self.failures:
            return "failing"
        return "good" if self.good_at else "not read yet"


GONE = Q(seen_at__lt=F("source__good_at"))


class TelematicsUnitQuerySet(models.QuerySet):
    def waiting(self) -> "TelematicsUnitQuerySet":
        """Units that fit no machine and that nobody has decided about."""
        return self.filter(machine=None, ignored=False)

    def tied(self) -> "TelematicsUnitQuerySet":
        """Units whose hours become readings of a machine."""
        return self.exclude(machine=None)

    def ignored(self) -> "TelematicsUnitQuerySet":
        """Units a person has set aside."""
        return self.filter(ignored=True)

    def with_questions_first(self) -> "TelematicsUnitQuerySet":
        """In the order of a page: those with a question before those of which nothing is known."""
        nothing = Case(When(hint="", then=1), default=0)
        return self.order_by(nothing, "maker", "model", "equipment_id", "pk")

    def asking(self) -> "TelematicsUnitQuerySet":
        """Units that wait with a question: a machine they may be, and what speaks against it."""
        return self.waiting().exclude(hint="").order_by("seen_at", "pk")

    def silent(self, now: datetime) -> "TelematicsUnitQuerySet":
        """Tied units that are gone from their source's last good snapshot, or have not reported for as many
        days as their source says. Those of a source that is switched off, and of retired machines, are left
        out.
        """
        late = Q(GONE)
        sources = TelematicsSource.objects.filter(active=True).exclude(good_at=None)
        for pk, days in sources.values_list("pk", "silent_days"):
            late |= Q(source=pk, silent_since__lte=now - timedelta(days=days))
        return (
            self.tied()
            .filter(source__active=True, source__good_at__isnull=False, machine__retired_on=None)
            .annotate(
                silent_since=Coalesce("reported_at", "tied_at"),
                is_gone=Case(When(GONE, then=True), default=False),
            )
            .filter(late)
            .order_by("silent_since", "pk")
        )

    def latest_first(self) -> "TelematicsUnitQuerySet":
        """Of several sources that speak of one machine, the one heard of last comes first."""
        return self.order_by(F("seen_at").desc(), "pk")


class TelematicsUnit(OrganisationOwned):
    """One unit a source speaks of, tied to a machine, waiting to be, or ignored; with what was last told."""

    class MatchedBy(models.TextChoices):
        PIN = "pin", _("product identification number")
        SERIAL = "serial", _("serial number")
        EQUIPMENT_ID = "equipment id", _("equipment id")
        PERSON = "person", _("a person")

    source = models.ForeignKey(
        TelematicsSource, verbose_name=_("source"), on_delete=models.CASCADE, related_name="units"
    )
    key = models.CharField(_("key"), max_length=250, help_text=_("What tells it apart within its source."))
    pin = models.CharField(_("product identification number"), max_length=100, blank=True)
    serial = models.CharField(_("serial number"), max_length=100, blank=True)
    equipment_id = models.CharField(_("equipment id"), max_length=100, blank=True)
    maker = models.CharField(_("maker"), max_length=100, blank=True)
    model = models.CharField(_("model"), max_length=100, blank=True)

    machine = models.ForeignKey(
        "fleet.Machine",
        verbose_name=_("machine"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="telematics_units",
    )
    proposed = models.ForeignKey(
        "fleet.Machine",
        verbose_name=_("machine it may be"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
    )
    known = models.JSONField(
        _("numbers it was known by"),
        default=dict,
        blank=True,
        help_text=_("Those it had when it was linked or ignored; with others it asks again."),
    )
    tied_at = models.DateTimeField(_("linked at"), null=True, blank=True)
    reported_at = models.DateTimeField(
        _("reported at"), null=True, blank=True, help_text=_("The latest time of what it told.")
    )
    matched_by = models.CharField(_("linked by"), max_length=12, choices=MatchedBy.choices, blank=True)
    ignored = models.BooleanField(_("ignored"), default=False)
    hint = models.TextField(
        _("hint"), blank=True, help_text=_("Why it was not linked on its own, where there is more to say.")
    )
    decided_by = models.ForeignKey(
        "fleet.Member",
        verbose_name=_("decided by"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
    )
    decided_at = models.DateTimeField(_("decided at"), null=True, blank=True)
    seen_at = models.DateTimeField(_("last seen at"), help_text=_("When a snapshot last spoke of it."))

    hours = models.CharField(
        _("hours"), max_length=100, blank=True, help_text=_("Cumulative operating hours, as sent.")
    )
    hours_at = models.CharField(
        _("hours read at"), max_length=100, blank=True, help_text=_("Their time, as sent.")
    )
    other_hours = models.JSONField(
        _("other hours"),
        default=list,
        blank=True,
        help_text=_("Further figures that were sent for the same moment."),
    )
    receipt = models.CharField(
        _("what became of the hours"), max_length=10, blank=True, help_text=_("What became of these hours.")
    )
    receipt_reason = models.TextField(_("reason for it"), blank=True)

    latitude = models.DecimalField(
        _("latitude"), max_digits=9, decimal_places=6, null=True, help_text=_("Degrees, WGS 84.")
    )
    longitude = models.DecimalField(_("longitude"), max_digits=9, decimal_places=6, null=True)
    location_at = models.DateTimeField(_("located at"), null=True)
    fuel_percent = models.DecimalField(
        _("fuel in per cent"), max_digits=5, decimal_places=2, null=True, help_text=_("Of the tank.")
    )
    fuel_at = models.DateTimeField(_("fuel measured at"), null=True)
    fuel_used = models.DecimalField(
        _("fuel used"), max_digits=12, decimal_places=2, null=True, help_text=_("Litres over its whole life.")
    )
    fuel_used_at = models.DateTimeField(_("fuel used, measured at"), null=True)

    objects: ClassVar = OrganisationManager.from_queryset(TelematicsUnitQuerySet)()

    class Meta:
        verbose_name = _("telematics unit")
        verbose_name_plural = _("telematics units")
        ordering = ["maker", "model", "equipment_id", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["source", "key"], name="telematics_unit_once"),
            models.UniqueConstraint(
                fields=["source", "machine"],
                condition=Q(machine__isnull=False),
                name="one_unit_of_a_source_for_a_machine",
            ),
            models.CheckConstraint(
                condition=Q(machine=None) | Q(ignored=False), name="ignored_unit_has_no_machine"
            ),
        ]

    def __str__(self) -> str:
        numbers = (self.equipment_id, self.serial, self.pin)
        telling = (each for each in numbers if each.strip("0-_./ "))  # `0` and `--` name nothing
        return next(telling, "") or f"{self.maker} {self.model}".strip() or self.key
