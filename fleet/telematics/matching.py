"""Which machine a unit is: by its product identification number, then serial number, then equipment id."""

from collections import defaultdict
from collections.abc import Iterable

from django.utils.translation import gettext_lazy as _

from fleet.core.squeezed import squeeze
from fleet.models import Machine, Organisation, TelematicsUnit
from fleet.models.machine import PIN

BY = TelematicsUnit.MatchedBy
SHARED = {
    BY.PIN: _("Several machines have its product identification number."),
    BY.SERIAL: _("Several machines have its serial number."),
    BY.EQUIPMENT_ID: _("Several machines have its equipment id."),
}
TAKEN = {
    BY.PIN: _(
        "Its product identification number is that of {machine}, "
        "to which another unit of this source is linked."
    ),
    BY.SERIAL: _("Its serial number is that of {machine}, to which another unit of this source is linked."),
    BY.EQUIPMENT_ID: _(
        "Its equipment id is that of {machine}, to which another unit of this source is linked."
    ),
}


class Matcher:
    """Ties units of one source to the organisation's machines in service; two never to the same machine.

    A number that several machines share ties nothing. Our word for an equipment id is the machine's tag.
    """

    def __init__(self, organisation: Organisation, units: Iterable[TelematicsUnit]) -> None:
        self.tags: dict[int, str] = {}
        """The tag of each machine in service, by its id."""
        self._pins: dict[str, list[int]] = defaultdict(list)
        self._serials: dict[str, list[int]] = defaultdict(list)
        self._by_tag: dict[str, list[int]] = defaultdict(list)
        machines = Machine.objects.filter(organisation=organisation).in_service().metered()
        for pk, tag, serial, pin in machines.values_list("pk", "tag", "serial", "pin"):
            self.tags[pk] = tag
            self._by_tag[squeeze(tag)].append(pk)
            self._serials[serial.lower()].append(pk)
            self._pins[pin].append(pk)
        self._taken = {unit.machine_id for unit in units}

    def tie(self, unit: TelematicsUnit) -> None:
        """Tie the unit to the machine it fits; where it can't be, leave a hint for the person who decides."""
        unit.hint = ""
        for by, candidates in self._candidates(unit):
            if not candidates:
                continue
            if len(candidates) > 1:
                unit.hint = str(SHARED[by])
            elif candidates[0] in self._taken:
                unit.hint = TAKEN[by].format(machine=self.tags[candidates[0]])
            else:
                unit.machine_id, unit.matched_by = candidates[0], by
                self._taken.add(candidates[0])
            return

    def _candidates(self, unit: TelematicsUnit) -> Iterable[tuple[BY, list[int]]]:
        pin = unit.pin.upper()
        if PIN.fullmatch(pin):
            yield BY.PIN, self._pins.get(pin, [])
        if pin:  # older plates have shorter ones, and people enter either as the serial number
            yield BY.PIN, self._serials.get(pin.lower(), [])
        if unit.serial:
            yield BY.SERIAL, self._serials.get(unit.serial.lower(), [])
        if unit.equipment_id:
            yield BY.EQUIPMENT_ID, self._called(unit.equipment_id)

    def _called(self, name: str) -> list[int]:
        alike = self._by_tag.get(squeeze(name), [])
        return [pk for pk in alike if self.tags[pk].lower() == name.lower()] or alike
