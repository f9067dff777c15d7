"""Which machine a unit is: the one that its numbers agree with, where none of them speaks against it.

Anything else is a question to a person, with both sides. A tie that was made is judged anew by each snapshot.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable

from django.utils.translation import gettext as _

from fleet.core.squeezed import squeeze
from fleet.models import Machine, Organisation, TelematicsUnit
from fleet.telematics import questions
from fleet.telematics.gathering import Gathered
from fleet.telematics.identity import (
    NUMBERS,
    TAIL,
    Fact,
    Numbers,
    Record,
    changes,
    compare,
    without_zeros,
)
from fleet.telematics.names_alike import makers_differ
from fleet.telematics.near_misses import NearMisses
from fleet.telematics.sections import several

BY = TelematicsUnit.MatchedBy
BY_FACT: dict[Fact, BY] = {"pin": BY.PIN, "serial": BY.SERIAL, "equipment_id": BY.EQUIPMENT_ID}


class Matcher:
    """Judges the units of one source against the organisation's machines; two never have the same machine."""

    def __init__(self, organisation: Organisation, units: Iterable[TelematicsUnit]) -> None:
        self.in_service: set[int] = set()
        """The ids of the machines that take hours."""
        self._records: dict[int, Record] = {}
        self._by_plate: dict[str, list[Record]] = defaultdict(list)
        self._by_tag: dict[str, list[Record]] = defaultdict(list)
        machines = Machine.objects.filter(organisation=organisation).select_related("type")
        for machine in machines:
            record = questions.record_of(machine)
            self._records[record.pk] = record
            if record.usable:
                self.in_service.add(record.pk)
            self._by_tag[squeeze(record.tag)].append(record)
            for plate in {form for each in record.plates for form in (each, f"0 {without_zeros(each)}")}:
                self._by_plate[plate].append(record)
        self._taken: dict[int, TelematicsUnit] = {}
        """Which unit each machine has, or had until it was asked about."""
        for unit in sorted(units, key=lambda unit: unit.machine_id is not None):
            if machine_id := unit.machine_id or (unit.proposed_id if unit.known else None):
                self._taken[machine_id] = unit
        self._near: NearMisses | None = None

    def settle(self, found: list[tuple[TelematicsUnit, Gathered]]) -> None:
        """Tie the units that fit, keep ties that still hold, and turn all else into questions.

        Ties that stand come first; where several new units fit one machine, be it by other numbers, it is
        asked.
        """
        new = [each for each in found if not self._holds(*each)]
        fitting = {id(unit): self._fitting(gathered) for unit, gathered in new}
        wanted = Counter(fit[0].pk for fit in fitting.values() if fit)
        for unit, gathered in new:
            self._place(unit, gathered, fitting[id(unit)], wanted)

    def _holds(self, unit: TelematicsUnit, gathered: Gathered) -> bool:
        """Judge a unit that was decided about before; False where it is to be placed as if it were new."""
        if not unit.known and not unit.ignored:
            return False
        now, before = gathered.numbers, Numbers.kept(unit.known)
        changed = changes(before, now)
        if unit.ignored or not unit.matched_by:  # it is ignored, or was until its numbers changed
            unit.ignored, unit.hint, unit.proposed_id = not changed, "", None
            unit.known = unit.known or now.told()
            if changed:
                self._ask_again(unit, now, before, changed)
            return True
        record = self._records.get(unit.machine_id or unit.proposed_id or 0)
        if record is None:  # the machine is gone
            unit.known, unit.matched_by = {}, ""
            return False
        against = [fact for fact in compare(now, record).against if fact not in changed]
        others = self._that_of_others(now, record)
        if unit.matched_by == BY.PERSON:  # what was sent when they decided stays decided
            against = [fact for fact in against if not getattr(before, fact)]
            others = {
                fact: each for fact, each in others.items() if fact in changed or not before.plain(fact)
            }
        said = questions.still(before, now, changed)
        said += [self._doubt(now, fact) for fact in now.in_doubt() if fact in changed]
        said += [questions.is_that_of(now, fact, whose) for fact, whose in others.items()]
        said += [questions.not_apart(gathered.entries)] if gathered.entries > 1 else []
        said += [questions.taken(record)] if self._taken.get(record.pk, unit) is not unit else []
        if said or against:
            self._ask(unit, record, questions.is_it(now, record, against, said))
            return True
        unit.machine_id, unit.proposed_id, unit.hint = record.pk, None, ""
        unit.known = before.told() | now.told()
        return True

    def _ask_again(self, unit: TelematicsUnit, now: Numbers, before: Numbers, changed: list[Fact]) -> None:
        """Ask about a unit that was ignored with other numbers than it has now."""
        said = [_("It was ignored with other numbers."), *questions.still(before, now, changed)]
        meant = [record for whose in self._whose(now).values() for record in whose]
        if not meant:
            self._ask(unit, None, " ".join(said))
            return
        self._ask(unit, meant[0], questions.is_it(now, meant[0], compare(now, meant[0]).against, said))

    def _place(
        self,
        unit: TelematicsUnit,
        gathered: Gathered,
        fitting: tuple[Record, Fact] | None,
        wanted: Counter[int],
    ) -> None:
        """Tie a new unit, or ask; where nothing is known of it, it waits without a question."""
        unit.hint, unit.proposed_id = "", None
        numbers = gathered.numbers
        if gathered.entries > 1:
            unit.hint = questions.not_apart(gathered.entries)
        elif fitting is None:
            self._ask_about(unit, gathered)
        elif fitting[0].pk in self._taken:
            record, _by = fitting
            self._ask(unit, record, questions.is_it(numbers, record, [], [questions.taken(record)]))
        elif wanted[fitting[0].pk] > 1:
            record, _by = fitting
            self._ask(unit, record, questions.is_it(numbers, record, [], [questions.wanted(record)]))
        else:
            record, by = fitting
            unit.machine_id, unit.matched_by, unit.known = record.pk, BY_FACT[by], numbers.told()
            self._taken[record.pk] = unit

    def _ask_about(self, unit: TelematicsUnit, gathered: Gathered) -> None:
        numbers = gathered.numbers
        many = [self._doubt(numbers, fact) for fact in numbers.in_doubt()] + questions.of_many(gathered)
        if whose := self._meant(numbers):
            every = list({record.pk: record for records in whose.values() for record in records}.values())
            best = min(every, key=lambda record: (len(compare(numbers, record).against), not record.usable))
            said = [
                questions.is_that_of(numbers, fact, records)
                for fact, records in whose.items()
                if len(every) > 1
            ]
            said += [questions.unusable(best)] if not best.usable else []
            self._ask(unit, best, questions.is_it(numbers, best, compare(numbers, best).against, said + many))
            return
        if self._near is None:
            self._near = NearMisses(record for record in self._records.values() if record.usable)
        misses = self._near.of(numbers)
        if misses or many:
            shared = self._meant(Numbers(*(getattr(numbers, fact) for fact in (*NUMBERS, "maker", "model"))))
            many += [questions.is_that_of(numbers, fact, records) for fact, records in shared.items()]
            said = [questions.near(miss) for miss in misses] + many
            self._ask(unit, misses[0].machine if len(misses) == 1 else None, " ".join(said))

    def _ask(self, unit: TelematicsUnit, record: Record | None, question: str) -> None:
        unit.machine_id, unit.proposed_id, unit.hint = None, record.pk if record else None, question

    def _fitting(self, gathered: Gathered) -> tuple[Record, Fact] | None:
        """The one machine that a unit's numbers agree with and none speaks against; by its surest number."""
        numbers = gathered.numbers
        whose = self._whose(numbers)
        if gathered.entries > 1 or not whose or numbers.in_doubt():
            return None
        fact, surest = next(iter(whose.items()))
        usable = [record for record in surest if not compare(numbers, record).against]
        if len(usable) != 1 or not usable[0].usable:
            return None
        (record,) = usable
        if fact == "equipment_id" and any(each is not record for each in self._meant(numbers)[fact]):
            return None
        return None if self._that_of_others(numbers, record) else (record, fact)

    def _meant(self, numbers: Numbers) -> dict[Fact, list[Record]]:
        """Whose its numbers may be: as `_whose`, and of an id that is a tag those with it on the plate."""
        whose = self._whose(numbers)
        called = whose.get("equipment_id", [])
        if called:
            plates = self._by_plate.get(numbers.plain("equipment_id"), ())
            whose["equipment_id"] = called + [
                each for each in plates if each not in called and not makers_differ(numbers.maker, each.maker)
            ]
        return whose

    def _doubt(self, numbers: Numbers, fact: Fact) -> str:
        """Say of a fact that was sent with several values whose they are."""
        alone = [Numbers.kept({fact: value}) for value in several(getattr(numbers, fact))]
        every = (record for each in alone for whose in self._whose(each).values() for record in whose)
        return questions.in_doubt(numbers, fact, every)

    def _that_of_others(self, numbers: Numbers, record: Record) -> dict[Fact, list[Record]]:
        """The numbers of a unit that are other machines' and not this one's."""
        return {
            fact: others
            for fact, whose in self._whose(numbers).items()
            if record not in whose
            and (
                others := [
                    each
                    for each in whose
                    if fact == "equipment_id" or not makers_differ(numbers.maker, each.maker)
                ]
            )
        }

    def _whose(self, numbers: Numbers) -> dict[Fact, list[Record]]:
        """For each number that is on record, the machines that have it, the surest number first."""
        found: dict[Fact, list[Record]] = {}
        for fact in NUMBERS:
            plain = numbers.plain(fact)
            if not plain:
                continue
            whose = list(self._by_plate.get(plain, ()))
            if fact == "equipment_id":
                # a provider's own number is no serial number because a short one is like it
                whose = self._called(numbers.equipment_id) or (whose if len(plain) >= TAIL else [])
            else:
                alike = self._by_plate.get(f"0 {without_zeros(plain)}", ())
                whose += [
                    each for each in alike if each not in whose and fact in compare(numbers, each).agree
                ]
            if whose:
                found[fact] = whose
        return found

    def _called(self, name: str) -> list[Record]:
        alike = self._by_tag.get(squeeze(name), [])
        return [record for record in alike if record.tag.lower() == name.lower()] or alike
