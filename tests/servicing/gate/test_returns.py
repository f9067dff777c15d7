"""Units come back, and what is added beside the return."""

from datetime import timedelta
from decimal import Decimal as D

import pytest
import time_machine

from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.machines import tag_outs
from fleet.models import Hire, Machine, Reading
from servicing import gate
from servicing.models import Fault
from tests.servicing.gate.hire_units import NOW, back, duty_of, out, unit

pytestmark = pytest.mark.time_machine(NOW, tick=False)


class TestBack:
    @pytest.fixture
    def machine(self, in_farm):
        machine = unit(in_farm)
        with time_machine.travel(NOW - timedelta(days=1), tick=False):
            out(in_farm, machine, fuel=100, note="With trailer")
        return machine

    def test_hire_ends_with_hours_fuel_and_note(self, in_farm, machine):
        answer = back(in_farm, machine, shows=D(107), fuel=50, note="Muddy")
        hire = Hire.objects.get()
        assert (hire.back_at, hire.back_by) == (NOW, in_farm.counter)
        assert (hire.hours_back, hire.fuel_back) == (D(107), 50)
        assert (hire.note, hire.note_back) == ("With trailer", "Muddy")
        assert answer.is_ready
        assert answer.machine.hours == 107
        assert answer.hire == hire

    def test_hours_that_cross_a_mark_bring_service_first(self, in_farm, machine):
        duty_of(machine, mark_hours=D(105))
        answer = back(in_farm, machine, shows=D(107))
        assert answer.verdict == "service first"
        assert answer.reasons[0].startswith("Engine oil is overdue")

    def test_implausible_hours_are_held_and_the_return_goes_on(self, in_farm, machine):
        answer = back(in_farm, machine, shows=D(1070))
        hire = Hire.objects.get()
        assert hire.back_at == NOW
        assert hire.hours_back == 1070
        assert Reading.objects.get(source="gate").state == "held"
        assert answer.machine.hours == 100
        assert "held" in answer.held

    def test_faults_become_faults_and_a_grave_one_keeps_it_in(self, in_farm, machine):
        answer = back(
            in_farm,
            machine,
            faults=[
                gate.FaultSeen("Mirror cracked", "note"),
                gate.FaultSeen("Hydraulic hose bulging", "stops"),
            ],
        )
        assert answer.verdict == "service first"
        assert "Hydraulic hose bulging" in answer.reasons[0]
        found = Fault.objects.order_by("pk").values_list("text", "severity", "found_at", "reported_by")
        assert list(found) == [
            ("Mirror cracked", "note", "gate", in_farm.counter.pk),
            ("Hydraulic hose bulging", "stops", "gate", in_farm.counter.pk),
        ]

    def test_small_faults_do_not_keep_it_in(self, in_farm, machine):
        assert back(in_farm, machine, faults=[gate.FaultSeen("Mirror cracked", "soon")]).is_ready

    def test_a_wrong_fault_undoes_the_whole_return(self, in_farm, machine):
        with pytest.raises(FleetError):
            back(
                in_farm,
                machine,
                shows=D(107),
                faults=[gate.FaultSeen("ok", "soon"), gate.FaultSeen("", "soon")],
            )
        assert Hire.objects.get().back_at is None
        assert not Fault.objects.exists()
        assert not Reading.objects.filter(source="gate").exists()

    def test_second_return_is_told_who_took_it_in(self, in_farm, machine):
        back(in_farm, machine, shows=D(107), fuel=50)
        with pytest.raises(WrongState) as refused:
            back(in_farm, machine, member=in_farm.manager)
        assert refused.value.sentence.replace("\u202f", " ").replace("\xa0", " ") == (
            f"{machine} is back already. It was taken back by {in_farm.counter} on Sun 3 May at 12:00 "
            "from Gala Ros, at 107.0 h, tank 50 % full."
        )

    def test_a_return_of_one_hire_does_not_end_the_next(self, in_farm, machine):
        first = Hire.objects.get()
        back(in_farm, machine)
        out(in_farm, machine, hirer="Pau Vila")
        with pytest.raises(WrongState) as refused:
            back(in_farm, machine, member=in_farm.manager, hire=first)
        assert "Since then it went out again. It has been out with Pau Vila" in refused.value.sentence
        assert Hire.objects.open().get().hirer == "Pau Vila"

    def test_unit_that_was_never_out(self, in_farm):
        with pytest.raises(WrongState):
            back(in_farm, unit(in_farm))

    def test_tagged_out_in_the_field_comes_back_and_stays(self, in_farm, machine):
        tag_outs.place(machine=machine, reason="Steering loose", member=in_farm.counter)
        assert back(in_farm, machine).verdict == "tagged out"


class TestBesideTheReturn:
    @pytest.fixture
    def ended(self, in_farm):
        machine = unit(in_farm)
        out(in_farm, machine, note="With trailer")
        back(in_farm, machine, note="Muddy")
        return Hire.objects.get()

    def add(self, house, hire, **values):
        asked = {"shows": None, "fuel": None, "member": house.manager}
        return gate.add_to_return(hire=hire, **{**asked, **values})

    def test_hours_faults_and_a_note_are_kept(self, in_farm, ended):
        told = self.add(
            in_farm,
            ended,
            shows=D(107),
            fuel=50,
            note="Mirror",
            faults=[gate.FaultSeen("Mirror cracked", "soon")],
        )
        hire = Hire.objects.get()
        assert (hire.hours_back, hire.fuel_back, hire.back_by) == (D(107), 50, in_farm.counter)
        assert (hire.note, hire.note_back) == (
            "With trailer",
            f"Muddy\nMirror ({in_farm.manager}, 3 May 2026)",
        )
        assert Fault.objects.get().text == "Mirror cracked"
        assert Reading.objects.get(source="gate").shows == 107
        assert told.machine.hours == 107

    def test_what_the_return_says_already_stays(self, in_farm):
        machine = unit(in_farm)
        out(in_farm, machine)
        back(in_farm, machine, shows=D(107), fuel=50)
        self.add(in_farm, Hire.objects.get(), shows=D("107.5"), fuel=25, now=NOW + timedelta(hours=1))
        hire = Hire.objects.get()
        assert (hire.hours_back, hire.fuel_back) == (D(107), 50)
        assert Machine.objects.get().hours == D("107.5"), "a reading of its own"

    @pytest.mark.parametrize("values", [{}, {"note": "  "}])
    def test_nothing_new_is_refused(self, in_farm, ended, values):
        with pytest.raises(FleetError, match="All of this is recorded"):
            self.add(in_farm, ended, **values)

    def test_a_unit_that_is_out_is_taken_back_instead(self, in_farm):
        machine = unit(in_farm)
        out(in_farm, machine)
        with pytest.raises(WrongState, match="still out with Gala Ros"):
            self.add(in_farm, Hire.objects.get(), note="x")

    def test_who_may_not_stand_at_the_gate_is_refused(self, in_farm, stranger, ended):
        with pytest.raises(NotAllowed):
            self.add(in_farm, ended, note="x", member=in_farm.technician)
        with pytest.raises(NotAllowed):
            self.add(in_farm, ended, note="x", member=stranger.counter)

    def test_wrong_hours_undo_all_of_it(self, in_farm, ended):
        with pytest.raises(FleetError):
            self.add(in_farm, ended, shows=D(107), note="x", faults=[gate.FaultSeen("", "soon")])
        assert not Reading.objects.filter(source="gate").exists()
        assert Hire.objects.get().note_back == "Muddy"


class TestNotes:
    def test_each_says_who_and_when(self, in_farm):
        machine = unit(in_farm)
        out(in_farm, machine, note="With trailer")
        back(in_farm, machine, note="Muddy", member=in_farm.manager, now=NOW + timedelta(hours=2))
        told = [(each.way, each.by, each.at, each.text) for each in Hire.objects.get().notes]
        assert told == [
            ("out", str(in_farm.counter), NOW, "With trailer"),
            ("back", str(in_farm.manager), NOW + timedelta(hours=2), "Muddy"),
        ]

    def test_a_note_of_before_they_were_kept_apart_is_nobodys(self, in_farm):
        machine = unit(in_farm)
        out(in_farm, machine, note="With trailer\nMuddy")
        back(in_farm, machine)
        Hire.objects.update(note_back=None)
        [told] = Hire.objects.get().notes
        assert (told.way, told.by, told.at, told.text) == ("", "", None, "With trailer\nMuddy")
