"""A whole snapshot is applied, or nothing of it."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.models import TelematicsSource, TelematicsUnit
from fleet.telematics import send_readings
from fleet.telematics.gathering import Gathered, gather
from fleet.telematics.known_units import KnownUnits
from fleet.telematics.matching import Matcher
from fleet.telematics.snapshot import SentUnit, Timed
from fleet.telematics.values import moment_of, number_of
from fleet.usage.figures import how_many

KEY = ("source", "key")
KEPT_AT_A_TIME = 500
KEPT = 100  # characters of hours and of their time, as sent; longer ones can't be read
WRITTEN = (
    *("pin", "serial", "equipment_id", "maker", "model", "seen_at"),
    *("machine", "matched_by", "ignored", "proposed", "known", "tied_at", "hint"),
    *("hours", "hours_at", "other_hours", "receipt", "receipt_reason", "reported_at"),
    *("latitude", "longitude", "location_at", "fuel_percent", "fuel_at", "fuel_used", "fuel_used_at"),
)


@dataclass(frozen=True, slots=True)
class Brought:
    """What a snapshot brought. receipts: how many of the tied units' hours became what."""

    units: int
    nameless: int
    waiting: int
    asking: int
    receipts: Counter[str]

    def __str__(self) -> str:
        said = [ngettext("{n} unit", "{n} units", self.units).format(n=how_many(self.units))]
        became = {"counted": _("{n} counted"), "held": _("{n} held"), "refused": _("{n} refused")}
        if parts := [
            one.format(n=how_many(self.receipts[state]))
            for state, one in became.items()
            if self.receipts[state]
        ]:
            said.append(_("hours: {parts}").format(parts=", ".join(parts)))
        if self.waiting:
            one = ngettext("{n} waits to be linked", "{n} wait to be linked", self.waiting)
            said.append(one.format(n=how_many(self.waiting)))
        if self.asking:
            one = ngettext("{n} of them with a question", "{n} of them with a question", self.asking)
            said.append(one.format(n=how_many(self.asking)))
        if self.nameless:
            said.append(_("{n} without any number, skipped").format(n=how_many(self.nameless)))
        return f"{'; '.join(said)}."


@transaction.atomic
def apply(*, source: TelematicsSource, sent: Iterable[SentUnit], now: datetime) -> Brought:
    """Apply a snapshot: units are kept and tied, their hours go through the door. Needs the scope.

    Other changes of the source's units wait until it is done.
    """
    source = (
        TelematicsSource.objects.select_related("organisation")
        .select_for_update(of=("self",))
        .get(pk=source.pk)
    )
    gathered, nameless = gather(sent)
    rows = KnownUnits(source, source.units.all())
    matcher = Matcher(source.organisation, rows.units)
    found = list(zip(rows.of(gathered), gathered, strict=True))
    was_tied = {id(unit) for unit, _each in found if unit.machine_id}
    for unit, each in found:
        describe(unit, each, now=now)
    matcher.settle(found)
    for unit, _each in found:
        _follow(unit, was_tied=id(unit) in was_tied, now=now)
    units = [unit for unit, _each in found]
    telling = [unit for unit, each in found if each.sent.hours is not None]
    send_readings.send(source=source, units=telling, in_service=matcher.in_service, now=now)
    _keep(units)
    return Brought(
        units=len(units),
        nameless=nameless,
        waiting=sum(unit.machine_id is None and not unit.ignored for unit in units),
        asking=sum(bool(unit.hint) and unit.machine_id is None and not unit.ignored for unit in units),
        receipts=Counter(unit.receipt for unit in units if unit.machine_id and unit.receipt),
    )


def _follow(unit: TelematicsUnit, *, was_tied: bool, now: datetime) -> None:
    """What follows from a tie made or undone: since when it stands, and what is said of its hours."""
    if unit.machine_id is None:
        unit.tied_at = None
        if was_tied:
            unit.receipt = unit.receipt_reason = ""
    elif not was_tied:
        unit.tied_at = now


def describe(unit: TelematicsUnit, gathered: Gathered, *, now: datetime) -> None:
    """Write what was sent onto the unit. A place or a filling replaces an older one only."""
    sent = gathered.sent
    unit.pin, unit.serial, unit.equipment_id = sent.pin, sent.serial, sent.equipment_id
    unit.maker, unit.model, unit.seen_at = sent.maker, sent.model, now
    if sent.hours is None:
        unit.receipt, unit.receipt_reason = "", _("The last snapshot gave no hours for it.")
    else:
        told = (
            sent.hours.value[:KEPT],
            sent.hours.at[:KEPT],
            [each.value[:KEPT] for each in gathered.other_hours],
        )
        if not unit.receipt or told != (unit.hours, unit.hours_at, unit.other_hours):
            unit.hours, unit.hours_at, unit.other_hours = told
            unit.receipt = unit.receipt_reason = ""
    times = (sent.hours, sent.latitude, sent.fuel_percent, sent.fuel_used)
    for timed in times:
        at = moment_of(timed, now=now) if timed else None
        if at and (unit.reported_at is None or at > unit.reported_at):
            unit.reported_at = at
    latitude = number_of(sent.latitude, least=-90, most=90, places=6)
    longitude = number_of(sent.longitude, least=-180, most=180, places=6)
    # 0, 0 is what receivers without a fix send (common practice, no source)
    somewhere = latitude is not None and longitude is not None and (latitude or longitude)
    if somewhere and (at := _newer(sent.latitude, unit.location_at, now)):
        unit.latitude, unit.longitude, unit.location_at = latitude, longitude, at
    percent = number_of(sent.fuel_percent, least=0, most=100, places=2)
    if percent is not None and (at := _newer(sent.fuel_percent, unit.fuel_at, now)):
        unit.fuel_percent, unit.fuel_at = percent, at
    used = number_of(sent.fuel_used, least=0, most=10**9, places=2)
    in_litres = used is not None and sent.fuel_units == "litre"
    if in_litres and (at := _newer(sent.fuel_used, unit.fuel_used_at, now)):
        unit.fuel_used, unit.fuel_used_at = used, at


def _newer(timed: Timed | None, known: datetime | None, now: datetime) -> datetime | None:
    """Its time, where it is not older than what is known."""
    at = moment_of(timed, now=now) if timed else None
    return at if at and (known is None or at >= known) else None


def _keep(units: list[TelematicsUnit]) -> None:
    """Write new units and changed ones alike."""
    for unit in units:
        unit.pk = None  # found again by its key
    TelematicsUnit.objects.bulk_create(
        units,
        batch_size=KEPT_AT_A_TIME,
        update_conflicts=True,
        unique_fields=KEY,
        update_fields=WRITTEN,
    )
