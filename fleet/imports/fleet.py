"""The organisation's machines as a file may call them, with what their meters last showed."""

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from decimal import Decimal
from itertools import pairwise

from django_scopes import scope

from fleet.core.squeezed import bare, squeeze
from fleet.imports.headings import MACHINE, kinds, normal
from fleet.imports.months import folded
from fleet.models import Machine, MeterSegment, Organisation

WORDS = re.compile(r"[^\s,;:()\[\]|]+")
LONGEST = 120  # characters of a cell that may name a machine
CACHED = 20_000  # names


@dataclass(frozen=True, slots=True)
class Known:
    """A machine: what it is called, its yard's clocks, and where its meter stood last.

    last_at: None for one that was never read. last: what its meter showed then, on the meter it has now.
    """

    pk: int
    tag: str
    serial: str = ""
    zone: tzinfo = UTC
    last_at: datetime | None = None
    last: Decimal = Decimal(0)


class Fleet:
    """Machines found by what they are called: without case, blanks, hyphens and leading zeros.

    A name finds a machine only where exactly one can be meant.
    """

    def __init__(self, machines: Iterable[Known] = ()) -> None:
        self.machines = list(machines)
        self._by: list[dict[str, list[Known]]] = []
        for called in (
            lambda machine: [machine.tag.lower()],
            lambda machine: [machine.serial.lower()],
            lambda machine: [squeeze(machine.tag), squeeze(machine.serial)],
            lambda machine: [bare(machine.tag), bare(machine.serial)],
        ):
            names: dict[str, list[Known]] = defaultdict(list)
            for machine in self.machines:
                for name in set(called(machine)) - {""}:
                    names[name].append(machine)
            self._by.append(names)
        self._found: dict[str, list[Known]] = {}

    @classmethod
    def of(cls, organisation: Organisation | None) -> "Fleet":
        """Every machine of an organisation, in two queries."""
        if organisation is None:
            return cls()
        with scope(organisation=organisation):
            running = MeterSegment.objects.filter(organisation=organisation, ended_at=None)
            offsets = dict(running.values_list("machine_id", "offset"))
            machines = Machine.objects.filter(organisation=organisation).select_related("yard__organisation")
            return cls(
                Known(
                    machine.pk,
                    machine.tag,
                    machine.serial,
                    machine.zoneinfo,
                    machine.hours_at,
                    machine.hours - offsets.get(machine.pk, 0),
                )
                for machine in machines
            )

    def meant(self, name: str) -> list[Known]:
        """The machines that a name can mean: none, one, or several between which nothing tells."""
        name = name.strip()
        if name in self._found:
            return self._found[name]
        found = self._looked_up(name)
        if not found and len(name) <= LONGEST:
            found = self._named_first(name)
        if len(self._found) < CACHED:
            self._found[name] = found
        return found

    def find(self, name: str) -> Known | None:
        """The one machine of that name; None where none or several can be meant."""
        meant = self.meant(name)
        return meant[0] if len(meant) == 1 else None

    def named_in(self, text: str) -> Known | None:
        """The one machine that some words name, wherever in them: "Tractor T-04, May"."""
        if (machine := self.exactly(text)) is not None:
            return machine
        words = WORDS.findall(text[:LONGEST])
        names = [*words, *(" ".join(pair) for pair in pairwise(words))]
        found = {machine for name in names if re.search(r"\d", name) if (machine := self.exactly(name))}
        return found.pop() if len(found) == 1 else None

    def exactly(self, name: str) -> Known | None:
        """The one machine of that name alone, without further words."""
        found = self._looked_up(name)
        return found[0] if len(found) == 1 else None

    def _looked_up(self, name: str) -> list[Known]:
        if not name:
            return []
        for names, key in zip(self._by, (name.lower(), name.lower(), squeeze(name), bare(name)), strict=True):
            if found := names.get(key):
                return found
        return []

    def _named_first(self, text: str) -> list[Known]:
        """The machine that the text begins with, before a bracket or words: "T-04 (Brava B 48)"."""
        words = WORDS.findall(text)
        if len(words) > 1 and MACHINE in kinds(normal(words[0])):  # "Machine 31"
            after = text.find(words[0]) + len(words[0])
            return self._looked_up(text[after:].strip(" .:#"))
        for many in range(min(len(words) - 1, 3), 0, -1):
            start = " ".join(words[:many])
            rest = text[text.find(words[many - 1]) + len(words[many - 1]) :].lstrip()
            if re.search(r"\d", start) and re.match(r"\(|[-–,:]?\s*[a-z]{3}", folded(rest)):
                found = self._looked_up(start)
                others = {machine for word in WORDS.findall(rest) for machine in self._looked_up(word)}
                if found:
                    return [] if others - set(found) else found
        return []
