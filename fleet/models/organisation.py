"""Organisations, their yards and their people."""

from datetime import date, datetime
from typing import Any, ClassVar
from zoneinfo import ZoneInfo, available_timezones

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django_scopes import scopes_disabled

from fleet.core.languages import DAYS, DECIMAL_MARKS, LANGUAGES
from fleet.core.roles import COUNTER, MANAGER, NO_RIGHTS, OWNER, RIGHTS, TECHNICIAN, Rights
from fleet.models.base import OrganisationManager, OrganisationOwned


def check_zone(name: str) -> None:
    """Refuse a time zone that the IANA database doesn't have."""
    if name not in available_timezones():
        said = _("{name} is not a time zone; write it like Europe/Madrid.")
        raise ValidationError(said.format(name=repr(name)))


class User(AbstractUser):
    """A person who signs in. What they may do is decided by their membership in an organisation."""

    language = models.CharField(
        _("language"),
        max_length=10,
        choices=LANGUAGES,
        blank=True,
        help_text=_("Blank: as the browser asks."),
    )
    decimal_mark = models.CharField(
        _("decimal mark"),
        max_length=1,
        choices=DECIMAL_MARKS,
        blank=True,
        help_text=_("Blank: as the language has it."),
    )
    days_written = models.CharField(
        _("way of writing days"),
        max_length=11,
        choices=DAYS,
        blank=True,
        help_text=_("Blank: as the language has it."),
    )

    class Meta(AbstractUser.Meta):
        verbose_name = _("person")  # type: ignore[assignment]  # the stubs know no lazy words here
        verbose_name_plural = _("people")  # type: ignore[assignment]
        constraints = [models.UniqueConstraint(Lower("username"), name="user_name_any_case")]

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Store it. Another password, or none any more, ends the person's tokens in every organisation.

        Their sessions carry a hash of the password, so those end too. However a password is changed (its own
        page, a one-time link, the operator's admin, a command), it comes by here; a hash that Django makes
        again of the same password at a sign-in ends nothing.
        """
        from fleet.models.access import ApiToken  # which needs this module

        chosen = self._password  # type: ignore[attr-defined]  # Django's own, which the stubs leave out
        changed = self.pk is not None and (chosen is not None or not self.has_usable_password())
        with transaction.atomic():
            super().save(*args, **kwargs)
            if changed:
                with scopes_disabled():  # a person's sign-in is one for all their organisations
                    ApiToken.objects.filter(member__user=self, revoked_at=None).update(
                        revoked_at=timezone.now()
                    )


class Organisation(models.Model):
    """A farm or a rental yard; the tenant."""

    class Units(models.TextChoices):
        METRIC = "metric", _("Metric (mm, N·m, L, kPa)")
        US = "us", _("US (in, lbf·ft, gal, psi)")

    class DateOrder(models.TextChoices):
        DAY_FIRST = "dmy", _("Day first: 31/12/2026")
        MONTH_FIRST = "mdy", _("Month first: 12/31/2026")

    name = models.CharField(_("name"), max_length=120)
    slug = models.SlugField(_("short name"), unique=True)
    currency = models.CharField(_("currency"), max_length=3, default="EUR", help_text=_("ISO 4217 code."))
    zone = models.CharField(_("time zone"), max_length=64, default="UTC", validators=[check_zone])
    units = models.CharField(_("units"), max_length=6, choices=Units.choices, default=Units.METRIC)
    date_order = models.CharField(
        _("date order"),
        max_length=3,
        choices=DateOrder.choices,
        blank=True,
        help_text=_("How days are written in its files; blank: not asked yet."),
    )
    digest_hour = models.PositiveSmallIntegerField(
        _("digest hour"), default=6, help_text=_("Hour of the day the digest goes out.")
    )
    notice_days = models.PositiveSmallIntegerField(
        _("notice in days"),
        default=14,
        help_text=_("Managers are told of a task likely due within this many days."),
    )
    hire_margin_days = models.PositiveSmallIntegerField(
        _("hire margin in days"),
        default=3,
        help_text=_("A unit with a task likely due within this many days is serviced before it goes out."),
    )
    created_at = models.DateTimeField(_("created at"), default=timezone.now, editable=False)
    set_up_at = models.DateTimeField(
        _("set up at"),
        null=True,
        blank=True,
        help_text=_("When its list of first steps was closed; blank: Today still shows it."),
    )

    class Meta:
        verbose_name = _("organisation")
        verbose_name_plural = _("organisations")
        constraints = [
            models.CheckConstraint(condition=models.Q(digest_hour__lt=24), name="digest_hour_in_day"),
        ]

    def __str__(self) -> str:
        return self.name

    def today(self, at: datetime | None = None) -> date:
        """Return the organisation's day at the moment `at` (now when left out)."""
        return (at or timezone.now()).astimezone(ZoneInfo(self.zone)).date()


class Yard(OrganisationOwned):
    """A place where machines stand; its zone decides what a day is there."""

    name = models.CharField(_("name"), max_length=120)
    zone = models.CharField(
        _("time zone"),
        max_length=64,
        blank=True,
        validators=[check_zone],
        help_text=_("Blank: the organisation's."),
    )

    class Meta:
        verbose_name = _("yard")
        verbose_name_plural = _("yards")
        ordering = ["name"]
        constraints = [models.UniqueConstraint("organisation", Lower("name"), name="yard_name_once")]

    def __str__(self) -> str:
        return self.name

    @property
    def zoneinfo(self) -> ZoneInfo:
        """The yard's time zone, the organisation's where it has none of its own."""
        return ZoneInfo(self.zone or self.organisation.zone)

    def today(self, at: datetime | None = None) -> date:
        """Return the yard's day at the moment `at` (now when left out)."""
        return (at or timezone.now()).astimezone(self.zoneinfo).date()


class MemberQuerySet(models.QuerySet):
    def active(self) -> "MemberQuerySet":
        """Members who may sign in to their organisation."""
        return self.filter(active=True, user__is_active=True)

    def with_right(self, right: str) -> "MemberQuerySet":
        """Active members whose role holds the right of that name."""
        return self.active().filter(
            role__in=[role for role, rights in RIGHTS.items() if getattr(rights, right)]
        )


class Member(OrganisationOwned):
    """A person's place in one organisation."""

    class Role(models.TextChoices):
        OWNER = OWNER, _("Owner")
        MANAGER = MANAGER, _("Manager")
        TECHNICIAN = TECHNICIAN, _("Technician")
        COUNTER = COUNTER, _("Hire desk")

    user = models.ForeignKey(
        User, verbose_name=_("person"), on_delete=models.CASCADE, related_name="memberships"
    )
    role = models.CharField(_("role"), max_length=10, choices=Role.choices)
    active = models.BooleanField(_("active"), default=True)
    mail = models.BooleanField(_("gets the digest by mail"), default=True)
    joined_at = models.DateTimeField(_("joined at"), default=timezone.now, editable=False)

    objects: ClassVar = OrganisationManager.from_queryset(MemberQuerySet)()

    class Meta:
        verbose_name = _("member")
        verbose_name_plural = _("members")
        ordering = ["user__first_name", "user__last_name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "user"], name="member_once"),
            models.CheckConstraint(condition=models.Q(role__in=list(RIGHTS)), name="member_role_known"),
        ]

    def __str__(self) -> str:
        return str(self.user)

    @property
    def rights(self) -> Rights:
        """What this member may do; nothing while inactive."""
        return RIGHTS[self.role] if self.active else NO_RIGHTS
