"""What is asked about a unit, with both sides: what was sent and what is on record."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.models import Machine, TelematicsUnit
from fleet.telematics.gathering import Gathered
from fleet.telematics.identity import FACTS, Fact, Numbers, Record, changes, compare
from fleet.telematics.near_misses import NearMiss
from fleet.telematics.sections import SEVERAL
from fleet.usage.figures import how_many

MADE_BY: tuple[Fact, ...] = ("maker", "model")
CALLED: dict[Fact, Promise] = {
    "pin": gettext_lazy("Product identification number"),
    "serial": gettext_lazy("Serial number"),
    "equipment_id": gettext_lazy("Equipment id"),
    "maker": gettext_lazy("Maker"),
    "model": gettext_lazy("Model"),
}


@dataclass(frozen=True)
class Side:
    """One fact of both sides. before: what the unit said of it when it was linked, where that was another.

    verdict: 'agrees', 'differs', or '' where it says nothing.
    """

    fact: Fact
    called: str
    sent: str
    before: str
    recorded: str
    verdict: str


def record_of(machine: Machine) -> Record:
    """A machine as units are compared with it. Asks for its type, where that wasn't loaded with it."""
    return Record(
        pk=machine.pk,
        tag=machine.tag,
        maker=machine.type.maker,
        model=machine.type.model,
        serial=machine.serial,
        pin=machine.pin,
        usable=machine.retired_on is None and not machine.is_attachment,
    )


def numbers_of(unit: TelematicsUnit) -> Numbers:
    """What a unit last told of itself."""
    return Numbers(unit.pin, unit.serial, unit.equipment_id, unit.maker, unit.model)


def sides(unit: TelematicsUnit) -> list[Side]:
    """Return both sides of a question, fact by fact; without a machine it may be, the unit's own alone."""
    now, before = numbers_of(unit), Numbers.kept(unit.known)
    record = record_of(unit.proposed) if unit.proposed else None
    compared = compare(now, record) if record else None
    changed = changes(before, now)
    made = []
    for fact in FACTS:
        sent, recorded = getattr(now, fact), record.on_record(fact) if record else ""
        verdict = ""
        if fact in changed or (compared and fact in compared.against):
            verdict = "differs"
        elif compared and (fact in compared.agree or (fact in MADE_BY and sent and recorded)):
            verdict = "agrees"
        made.append(
            Side(
                fact,
                str(CALLED[fact]),
                sent,
                getattr(before, fact) if fact in changed else "",
                recorded,
                verdict,
            )
        )
    return made


def is_it(unit: Numbers, machine: Record, against: Iterable[Fact], others: Iterable[str] = ()) -> str:
    """Ask whether a unit is a machine, and say what speaks against it."""
    said = [_("Is this {machine}?").format(machine=machine.tag)]
    said += [
        _("{fact}: {sent} is sent, {recorded} is on record.").format(
            fact=CALLED[fact], sent=getattr(unit, fact), recorded=machine.on_record(fact)
        )
        for fact in against
    ]
    return " ".join([*said, *others])


def still(before: Numbers, now: Numbers, changed: Sequence[Fact]) -> list[str]:
    """Say what a unit told when it was linked, and what it tells now."""
    return [
        _("{fact}: {now} is sent now, {before} was sent before.").format(
            fact=CALLED[fact], now=getattr(now, fact), before=getattr(before, fact)
        )
        for fact in changed
    ]


def is_that_of(unit: Numbers, fact: Fact, machines: Iterable[Record]) -> str:
    """Say whose number a unit sent."""
    tags = ", ".join(sorted(machine.tag for machine in machines))
    return _("{fact}: {sent} is that of {machines}.").format(
        fact=CALLED[fact], sent=getattr(unit, fact), machines=tags
    )


def in_doubt(unit: Numbers, fact: Fact, machines: Iterable[Record]) -> str:
    """Say that a unit told several values of one fact, and whose they are, where they are anybody's."""
    sent = getattr(unit, fact).split(SEVERAL)
    said = _("{fact}: {sent} are sent for one unit.").format(fact=CALLED[fact], sent=" / ".join(sent))
    if tags := ", ".join(sorted({machine.tag for machine in machines})):
        said += " " + _("They speak of {machines}.").format(machines=tags)
    return said


def near(miss: NearMiss) -> str:
    """Offer a machine whose number is nearly the one that was sent."""
    return _("{machine} has {recorded}; {sent} is sent. Is it that one?").format(
        machine=miss.machine.tag, recorded=miss.recorded, sent=miss.sent
    )


def of_many(gathered: Gathered) -> list[str]:
    """Say which of its numbers other units have too, so that they tell nothing."""
    return [
        _("{fact}: {sent} is that of {n} units of this source, so it tells nothing.").format(
            fact=CALLED[fact], sent=getattr(gathered.numbers, fact), n=how_many(count)
        )
        for fact, count in gathered.counts.items()
    ]


def not_apart(entries: int) -> str:
    """Say that several units can't be told apart."""
    return _(
        "{n} units of this source say the same of themselves, so that nothing tells them apart. The hours of "
        "one are shown; none are counted."
    ).format(n=how_many(entries))


def taken(machine: Record) -> str:
    """Say that another unit has the machine."""
    return _("Another unit of this source is linked to {machine}.").format(machine=machine.tag)


def wanted(machine: Record) -> str:
    """Say that several units say they are the machine."""
    return _("Several units of this source say they are {machine}.").format(machine=machine.tag)


def unusable(machine: Record) -> str:
    """Say that a machine takes no hours."""
    return _("{machine} is retired or has no meter of its own.").format(machine=machine.tag)
