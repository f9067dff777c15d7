"""Machines whose number is one slip away from a unit's: offered to a person, never linked."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from fleet.telematics.identity import NUMBERS, TAIL, Fact, Numbers, Record, identifies, without_zeros
from fleet.telematics.names_alike import makers_differ

LEAST = 4  # letters and figures of a number that one slip is looked for in; shorter ones are all alike
SHORT_TAG = 2
SURE_FIGURES = 3
MOST = 3  # offered at once
MIXED_UP = str.maketrans("oilsbzg", "0115829")  # letters read as figures, and so typed


@dataclass(frozen=True)
class NearMiss:
    """A machine that has `recorded` where the unit sent `sent`."""

    machine: Record
    fact: Fact
    sent: str
    recorded: str


class NearMisses:
    """Finds them among some machines; built once for a snapshot, when the first unit needs it."""

    def __init__(self, machines: Iterable[Record]) -> None:
        self._alike: dict[str, list[tuple[Record, str]]] = defaultdict(list)
        for machine in machines:
            for recorded in (machine.serial, machine.pin):
                for form in set(_forms(identifies(recorded), least=LEAST)):
                    self._alike[f"plate {form}"].append((machine, recorded))
            for form in set(_forms(identifies(machine.tag), least=SHORT_TAG, slips=False)):
                self._alike[f"tag {form}"].append((machine, machine.tag))

    def of(self, unit: Numbers) -> list[NearMiss]:
        """Return the machines a unit may be, at most a few; none whose maker is clearly another."""
        found: dict[int, NearMiss] = {}
        for fact in NUMBERS:
            plain = unit.plain(fact)
            forms = [f"plate {form}" for form in _forms(plain, least=LEAST)]
            if fact == "equipment_id":
                forms += [f"tag {form}" for form in _forms(plain, least=SHORT_TAG, slips=False)]
            for form in forms:
                for machine, recorded in self._alike.get(form, ()):
                    if not makers_differ(unit.maker, machine.maker):
                        miss = NearMiss(machine, fact, getattr(unit, fact), recorded)
                        found.setdefault(machine.pk, miss)
        return list(found.values())[:MOST]


def _forms(plain: str, *, least: int, slips: bool = True) -> Iterator[str]:
    """The forms that a number shares with those near it: without zeros, letters taken for figures, its end,
    its figures alone, and (slips) without any one of its characters, as in SymSpell's deletions.
    """
    figures = "".join(each for each in plain if each.isdigit()).lstrip("0")
    if len(figures) >= SURE_FIGURES:
        yield f"figures {figures}"
    if len(plain) < least:
        return
    yield plain
    yield f"zeros {without_zeros(plain)}"
    yield f"mixed {plain.translate(MIXED_UP)}"
    if not slips:
        return
    if len(plain) >= TAIL:
        yield from (f"end {plain[-size:]}" for size in range(TAIL, min(len(plain), 17) + 1))
    yield from (f"slip {plain[:at]}{plain[at + 1 :]}" for at in range(len(plain)))
    yield f"slip {plain}"
