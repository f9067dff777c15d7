"""The machines that a batch of readings speaks of: found by what they are called, and locked."""

from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet
from django.db.models.functions import Lower

from fleet.core.prepared_queries import Rows, prepared
from fleet.core.squeezed import forms, squeeze, squeezed
from fleet.models import Machine, Organisation
from fleet.models.machine import Category

Name = int | str
KNOWN = ("pk", "tag", "yard__zone", "type__category", "serial")


@dataclass(slots=True, eq=False)
class Found:
    """A machine as far as its readings need it. `hours` are the machine's, once it is locked."""

    pk: int
    tag: str
    organisation_id: int
    zoneinfo: ZoneInfo
    is_attachment: bool
    hours: Decimal = Decimal(0)
    hours_at: datetime | None = None
    projection_wanted_at: datetime | None = None

    def __str__(self) -> str:
        return self.tag


def find_machines(organisation: Organisation, names: Collection[Name]) -> dict[Name, Found]:
    """Return the machines by the names they were called by, locked until the transaction ends.

    An integer is an id; text is a fleet number in any case, else a serial number, else a fleet number without
    its hyphens and blanks where that is one machine's. Locked in the order of their ids, so that two batches
    over the same machines wait for each other instead of standing in each other's way. Asks two queries, one
    more where a name is no fleet number, and another where it is no serial number either.
    """
    found = _called(organisation, names)
    by_id = {machine.pk: machine for machine in found.values()}
    for pk, hours in _locked(machines=list(by_id)):
        by_id[pk].hours = hours
    return {name: by_id[machine.pk] for name, machine in found.items()}


def _called(organisation: Organisation, names: Collection[Name]) -> dict[Name, Found]:
    numbers = [name for name in names if isinstance(name, int) and 0 < name < 2**63]
    # databases differ in which letters they can lower: all of them, or those of ASCII alone
    lowered = {name: {name.lower(), _lower_ascii(name)} for name in names if isinstance(name, str)}
    tags = list({each for both in lowered.values() for each in both})
    known: dict[Name, Found] = {}
    for machine, _ in _made(organisation, _by_id_or_tag(own=organisation.pk, ids=numbers, tags=tags)):
        known[machine.pk] = known[machine.tag.lower()] = machine
    found = {name: known[_key(name)] for name in names if _key(name) in known}
    if unknown := lowered.keys() - found.keys():
        rows = _by_serial(own=organisation.pk, serials=list(unknown))
        found |= {serial: machine for machine, serial in _made(organisation, rows)}
    if unknown := lowered.keys() - found.keys():
        found |= _squeezed(organisation, unknown)
    return found


def _squeezed(organisation: Organisation, names: Collection[str]) -> dict[Name, Found]:
    asked = {name: forms(name) - {""} for name in names}
    every = list({each for both in asked.values() for each in both})
    alike: dict[str, list[Found]] = defaultdict(list)
    for machine, _ in _made(organisation, _by_squeezed(own=organisation.pk, tags=every)):
        alike[squeeze(machine.tag)].append(machine)
    return {name: alike[squeeze(name)][0] for name in names if len(alike[squeeze(name)]) == 1}


def _made(organisation: Organisation, rows: Rows) -> Iterator[tuple[Found, str]]:
    """The machines of some rows, each with its serial number."""
    zones = {"": ZoneInfo(organisation.zone)}
    for pk, tag, zone, category, serial in rows:
        if zone not in zones:
            zones[zone] = ZoneInfo(zone)
        yield Found(pk, tag, organisation.pk, zones[zone], category == Category.ATTACHMENT), serial


@prepared
def _by_id_or_tag(own: int, ids: list[int], tags: list[str]) -> QuerySet:
    machines = Machine.objects.filter(organisation=own).annotate(tag_lower=Lower("tag")).order_by()
    return machines.filter(Q(pk__among=ids) | Q(tag_lower__among=tags)).values_list(*KNOWN)


@prepared
def _by_serial(own: int, serials: list[str]) -> QuerySet:
    return Machine.objects.filter(organisation=own, serial__among=serials).order_by().values_list(*KNOWN)


@prepared
def _by_squeezed(own: int, tags: list[str]) -> QuerySet:
    machines = Machine.objects.filter(organisation=own).annotate(tag_squeezed=squeezed("tag")).order_by()
    return machines.filter(tag_squeezed__among=tags).values_list(*KNOWN)


@prepared
def _locked(machines: list[int]) -> QuerySet:
    locked = Machine.objects.filter(pk__among=machines).select_for_update().order_by("pk")
    return locked.values_list("pk", "hours")


def _key(name: Name) -> Name:
    return name.lower() if isinstance(name, str) else name


def _lower_ascii(text: str) -> str:
    return text.encode().lower().decode()
