"""What an organisation has already: its machines by their numbers, its models and its yards."""

from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from fleet.core.squeezed import squeeze
from fleet.models import Machine, MachineType, Organisation, Yard


class Here(NamedTuple):
    """A machine that is here already, by its fleet number; retired or not."""

    tag: str
    serial: str
    pin: str


@dataclass(frozen=True)
class Known:
    """Machines by fleet number, serial number and PIN, models and yards; without case, blanks, hyphens."""

    organisation: Organisation
    tags: dict[str, Here]
    serials: dict[str, Here]
    pins: dict[str, Here]
    types: dict[str, list[MachineType]]
    yards: list[Yard]
    today: date

    @classmethod
    def of(cls, organisation: Organisation) -> "Known":
        """Look up what the organisation has. Within its scope."""
        found = [Here(*row) for row in Machine.objects.values_list("tag", "serial", "pin")]
        types: dict[str, list[MachineType]] = {}
        for kind in MachineType.objects.all():
            types.setdefault(type_key(str(kind)), []).append(kind)
        return cls(
            organisation=organisation,
            tags={squeeze(each.tag): each for each in found},
            serials={squeeze(each.serial): each for each in found if each.serial},
            pins={each.pin: each for each in found if each.pin},
            types=types,
            yards=list(Yard.objects.select_related("organisation")),
            today=organisation.today(),
        )

    def types_called(self, name: str) -> list[MachineType]:
        """The models of that name: the one written just so, else those that differ in case and blanks."""
        found = self.types.get(type_key(name), [])
        return [kind for kind in found if str(kind).casefold() == " ".join(name.split()).casefold()] or found

    def yard_called(self, name: str) -> Yard | None:
        """The one yard of that name, as it is written or without case, blanks and hyphens."""
        exact = [yard for yard in self.yards if yard.name.casefold() == name.strip().casefold()]
        found = exact or [yard for yard in self.yards if squeeze(yard.name) == squeeze(name)]
        return found[0] if len(found) == 1 else None

    def yard_numbered(self, text: str) -> Yard | None:
        """The yard with that id, as a form names it."""
        return next((yard for yard in self.yards if str(yard.pk) == text), None)

    def maker_in(self, text: str) -> str:
        """The longest of our makers with which a text begins, '' where it begins with none."""
        makers = {kind.maker for kinds in self.types.values() for kind in kinds}
        start = text.casefold()
        found = [maker for maker in makers if start.startswith(f"{maker.casefold()} ")]
        return max(found, key=len, default="")


def type_key(name: str) -> str:
    """A make and model as it compares."""
    return squeeze("".join(name.split()))
