"""The units a source spoke of before, found again by what a snapshot says of them now."""

from collections import defaultdict
from collections.abc import Iterable

from fleet.models import TelematicsSource, TelematicsUnit
from fleet.telematics.gathering import Gathered
from fleet.telematics.identity import NUMBERS, Fact, Numbers, identifies
from fleet.telematics.names_alike import makers_differ
from fleet.telematics.questions import numbers_of


class KnownUnits:
    """Finds them by their key; else by any number they were known by, so that a box that moved is noticed."""

    def __init__(self, source: TelematicsSource, units: Iterable[TelematicsUnit]) -> None:
        self.units = list(units)
        self._source = source
        self._by_key = {unit.key: unit for unit in self.units}
        self._by_number: dict[tuple[Fact, str], list[TelematicsUnit]] = defaultdict(list)
        for unit in self.units:
            for numbers in (numbers_of(unit), Numbers.kept(unit.known)):
                for fact in NUMBERS:
                    alike = self._by_number[fact, identifies(getattr(numbers, fact))]
                    if unit not in alike:
                        alike.append(unit)

    def of(self, gathered: list[Gathered]) -> list[TelematicsUnit]:
        """Return the unit of each, in order, a new one where there is none. Those found by another number get
        their new key here.
        """
        found: dict[str, TelematicsUnit] = {
            each.key: self._by_key[each.key] for each in gathered if each.key in self._by_key
        }
        claimed = {unit.pk for unit in found.values()}
        for fact in NUMBERS:  # the surest number of all units first
            for each in gathered:
                unit = None if each.key in found else self._by(fact, each.numbers, claimed)
                if unit is not None:
                    claimed.add(unit.pk)
                    unit.key = each.key
                    TelematicsUnit.objects.filter(pk=unit.pk).update(key=each.key)
                    found[each.key] = unit
        own = {"organisation": self._source.organisation, "source": self._source}
        return [found.get(each.key) or TelematicsUnit(key=each.key, **own) for each in gathered]

    def _by(self, fact: Fact, numbers: Numbers, claimed: set[int]) -> TelematicsUnit | None:
        if not (plain := numbers.plain(fact)):
            return None
        alike = [unit for unit in self._by_number.get((fact, plain), ()) if unit.pk not in claimed]
        if fact == "serial":
            alike = [unit for unit in alike if not makers_differ(numbers.maker, unit.maker)]
        return alike[0] if len(alike) == 1 else None
