"""A list that is right is saved: yards, models, machines and their hours, all of it or nothing."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet import readings
from fleet.accounts import yards
from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.machine_list.answers import Answers
from fleet.machine_list.judging import Entry, Judged, judge
from fleet.machine_list.known import Known
from fleet.machine_list.listing import (
    CONDITION,
    HOURS,
    HOURS_BEFORE,
    PIN,
    PRICE,
    SERIAL,
    SINCE,
    TAG,
    YARD,
    Listing,
)
from fleet.machine_list.models_named import NewModel
from fleet.machine_list.yards_named import NewYard
from fleet.machines import register
from fleet.machines.register import Facts
from fleet.models import Machine, MachineType, Member, Organisation, Reading, Yard
from fleet.models.machine import WorkingCondition
from fleet.readings.submission import DUPLICATE

COLUMNS = {  # where a refusal about a fact of a machine is said
    "tag": TAG,
    "serial": SERIAL,
    "pin": PIN,
    "in_service_on": SINCE,
    "price": PRICE,
    "condition": CONDITION,
    "hours_at_start": HOURS_BEFORE,
    "hours_before": HOURS,
    "name": YARD,
    "shows": HOURS,
}


class NotRight(FleetError):
    """The list can't be saved as it is; `judged` says why, cell by cell."""

    code = "list-not-right"

    def __init__(self, judged: Judged) -> None:
        super().__init__(_("Nothing is saved yet."))
        self.judged = judged


@dataclass(frozen=True)
class Added:
    """What a list added."""

    machines: list[Machine]
    models: list[MachineType]
    yards: list[Yard]


def add(*, table: Listing, answers: Answers, member: Member, now: datetime | None = None) -> Added:
    """Add the machines of a list with what they need; return what was added.

    The hours now are a counted reading of each machine, at the day the list gives or at this moment. Lists of
    one organisation are saved one after the other, so that one sent twice at once is saved once. Within the
    organisation's scope. Raises NotAllowed; NotRight, and then nothing is saved.
    """
    require(member, "manage_fleet", _("change machines"))
    now = now or timezone.now()
    with transaction.atomic():
        organisation = Organisation.objects.select_for_update().get(pk=member.organisation_id)
        judged = judge(table, answers, Known.of(organisation), now=now)
        if not judged.ready:
            raise NotRight(judged)
        return _Saving(judged, member, now).save()


class _Saving:
    def __init__(self, judged: Judged, member: Member, now: datetime) -> None:
        self._judged, self._member, self._now = judged, member, now
        self._types: dict[NewModel, MachineType] = {}
        self._yards: dict[NewYard, Yard] = {}

    def save(self) -> Added:
        machines = []
        for entry in self._judged.entries:
            try:
                machines.append(self._machine(entry))
            except FleetError as error:
                self._refuse(entry, COLUMNS.get(error.field or "", TAG), error.sentence)
        self._take_hours(machines)
        return Added(machines, list(self._types.values()), list(self._yards.values()))

    def _machine(self, entry: Entry) -> Machine:
        assert entry.since is not None
        facts = Facts(
            type=self._type(entry),
            yard=self._yard(entry),
            tag=entry.tag,
            in_service_on=entry.since,
            serial=entry.serial,
            pin=entry.pin,
            price=entry.price,
            condition=entry.condition,
            for_hire=entry.for_hire,
            note=entry.note,
        )
        if not entry.is_attachment:
            return register.register(facts=facts, member=self._member, hours_at_start=entry.hours_before)
        ran = next((hours for hours in (entry.hours, entry.hours_before) if hours is not None), Decimal(0))
        made: Machine = register.register_attachment(
            type=facts.type,
            yard=facts.yard,
            tag=facts.tag,
            in_service_on=facts.in_service_on,
            serial=facts.serial,
            hours_before=ran,
            member=self._member,
        )
        more = (
            facts.pin,
            facts.price,
            facts.for_hire,
            facts.note,
            facts.condition != WorkingCondition.NORMAL,
        )
        return register.change(machine=made, facts=facts, member=self._member) if any(more) else made

    def _type(self, entry: Entry) -> MachineType:
        kind = entry.type
        assert kind is not None
        if isinstance(kind, MachineType):
            return kind
        if kind not in self._types:
            self._types[kind] = register.register_type(
                maker=kind.maker, model=kind.model, category=kind.category, member=self._member
            )
        return self._types[kind]

    def _yard(self, entry: Entry) -> Yard:
        yard = entry.yard
        assert yard is not None
        if isinstance(yard, Yard):
            return yard
        if yard not in self._yards:
            self._yards[yard] = yards.add(name=yard.name, zone="", member=self._member)
        return self._yards[yard]

    def _take_hours(self, machines: list[Machine]) -> None:
        """Take in the hours now through the one door; each must count."""
        pairs = [
            (entry, machine)
            for entry, machine in zip(self._judged.entries, machines, strict=True)
            if entry.hours is not None and not entry.is_attachment
        ]
        receipts = readings.take(
            organisation=self._member.organisation,
            rows=[readings.Submitted(machine.pk, entry.read_at, entry.hours) for entry, machine in pairs],
            source=Reading.Source.MACHINE,
            sender="",
            member=self._member,
            now=self._now,
        )
        for (entry, _machine), receipt in zip(pairs, receipts, strict=True):
            if receipt.state not in (Reading.State.COUNTED, DUPLICATE):
                self._judged.problem(entry.number, HOURS, receipt.reason)
        if self._judged.problems:
            raise NotRight(self._judged)

    def _refuse(self, entry: Entry, column: str, sentence: str) -> None:
        self._judged.problem(entry.number, column, sentence)
        raise NotRight(self._judged)
