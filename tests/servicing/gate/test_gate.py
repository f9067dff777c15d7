"""Units go out and come back. Rental practice is common practice, no source, unless a source is named."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal as D

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.machines import tag_outs
from fleet.models import Hire, Machine, Reading
from servicing import gate
from servicing.models import Defect
from tests.factories import (
    BookingFactory,
    DefectFactory,
    DutyFactory,
    MachineFactory,
    ReadingFactory,
)

NOW = datetime(2026, 5, 3, 10, 0, tzinfo=UTC)
TODAY = date(2026, 5, 3)

pytestmark = pytest.mark.usefixtures("on_third_of_may")


@pytest.fixture
def on_third_of_may():
    with time_machine.travel(NOW, tick=False):
        yield


def unit(house, **values):
    """A rental unit whose meter was read at 100 h two days ago."""
    machine = MachineFactory(
        organisation=house.organisation, yard=house.yard, for_hire=True, hours=D(100), hours_at=NOW, **values
    )
    ReadingFactory(machine=machine, taken_at=NOW - timedelta(days=2), shows=D(100))
    return machine


def duty_of(machine, **values):
    values = {"early": None, "likely": None, "late": None, "mark_hours": D(9000), **values}
    return DutyFactory(machine=machine, task__title=values.pop("title", "Engine oil"), **values)


def out(house, machine, **values):
    asked = {"hirer": "Gala Ros", "due_back_on": None, "shows": None, "fuel": None, "member": house.counter}
    return gate.check_out(machine=machine, **{**asked, **values})


def back(house, machine, **values):
    return gate.check_in(machine=machine, **{"shows": None, "fuel": None, "member": house.counter, **values})


@pytest.mark.parametrize(("days", "offered"), [(14, True), (15, False)])
def test_a_booking_that_begins_within_a_fortnight_may_be_the_one(in_farm, days, offered):
    machine, first = unit(in_farm), TODAY + timedelta(days=days)
    booking = BookingFactory(machine=machine, first_on=first, last_on=first + timedelta(days=2))
    assert list(gate.bookings_near(machine)) == ([booking] if offered else [])


class TestAnswer:
    def test_nothing_against_it(self, in_farm):
        machine = unit(in_farm)
        duty_of(machine, early=date(2026, 5, 8), likely=date(2026, 5, 20), late=date(2026, 6, 9))
        DefectFactory(machine=machine, severity="soon")
        answer = gate.answer(machine)
        assert answer.is_ready
        assert answer.reasons == ()

    def test_tag_out_is_gravest_and_says_who_and_why(self, in_farm):
        machine = unit(in_farm)
        DefectFactory(machine=machine, severity="stops", text="Brake pedal soft", reported_by=in_farm.counter)
        tag_outs.place(machine=machine, reason="Brakes failed", member=in_farm.technician)
        answer = gate.answer(machine)
        assert answer.verdict == "tagged out"
        assert answer.reasons == (
            f"Tagged out by {in_farm.technician} on 3 May 2026: Brakes failed.",
            f"Fault to fix first (reported by {in_farm.counter} on 3 May 2026): Brake pedal soft.",
        )

    @pytest.mark.parametrize(
        ("mark", "verdict"), [("99.9", "service first"), ("100", "service first"), ("100.1", "ready")]
    )
    def test_hour_mark_is_past_when_reached(self, in_farm, mark, verdict):
        machine = unit(in_farm)
        duty_of(machine, mark_hours=D(mark))
        assert gate.answer(machine).verdict == verdict

    def test_past_mark_is_said_with_its_hours(self, in_farm):
        machine = unit(in_farm)
        duty_of(machine, mark_hours=D("98.5"))
        [reason] = gate.answer(machine).reasons
        assert reason.replace("\xa0", " ") == "Engine oil is past its mark: due at 98.5 h, now 100.0 h."

    def test_a_mark_brought_forward_says_why(self, in_farm):
        machine, drifts = unit(in_farm), "Belt deflection nears its limit of 9 mm at about 98 h"
        early = {"rule_hours": D(150), "forward_reason": drifts}
        past = duty_of(machine, mark_hours=D("98.5"), forward_hours=D("98.5"), **early)
        soon = duty_of(
            machine,
            mark_hours=D(104),
            forward_hours=D(104),
            early=date(2026, 5, 4),
            likely=date(2026, 5, 4),
            late=date(2026, 5, 5),
            **early,
        )
        reasons = gate.answer(machine, due_back_on=date(2026, 5, 9)).reasons
        assert len({past.pk, soon.pk}) == len(reasons) == 2
        assert all(each.endswith(f"It is due earlier than by its rule: {drifts}.") for each in reasons)

    def test_work_put_off_still_comes_first_and_says_until_when(self, in_farm):
        machine = unit(in_farm)
        duty_of(
            machine, mark_hours=D(90), put_off_until=date(2026, 5, 9), put_off_reason="No filter in stock"
        )
        answer = gate.answer(machine)
        assert answer.verdict == "service first"
        assert answer.reasons[0].endswith("Put off until 9 May 2026: No filter in stock.")

    @pytest.mark.parametrize(("likely", "verdict"), [(6, "service first"), (7, "ready")])
    def test_margin_of_days_of_the_organisation(self, in_farm, likely, verdict):
        """The organisation's margin is three days: the 6th is within it, the 7th is not."""
        machine = unit(in_farm)
        duty_of(machine, early=date(2026, 5, 4), likely=date(2026, 5, likely), late=date(2026, 5, 30))
        answer = gate.answer(machine)
        assert answer.verdict == verdict
        if verdict != "ready":
            assert answer.reasons == (
                "Engine oil will likely fall due on 6 May 2026 (8 in 10: from 4 May to 30 May).",
            )

    @pytest.mark.parametrize(
        ("due_back", "chance"),
        [
            (9, None),
            (10, "possibly fall due (1 to 5 chances in 10)"),
            (15, "more likely than not fall due (5 to 9 chances in 10)"),
            (25, "almost surely fall due (at least 9 chances in 10)"),
        ],
    )
    def test_length_of_the_hire_counts_and_the_sentence_says_how_sure(self, in_farm, due_back, chance):
        machine = unit(in_farm)
        duty_of(machine, early=date(2026, 5, 10), likely=date(2026, 5, 15), late=date(2026, 5, 25))
        answer = gate.answer(machine, due_back_on=date(2026, 5, due_back))
        assert answer.is_ready is (chance is None)
        if chance:
            assert chance in answer.reasons[0]
            assert f"before it is back on {due_back} May 2026" in answer.reasons[0]

    def test_daily_care_ahead_is_a_note_and_past_it_counts(self, in_farm):
        machine = unit(in_farm)
        program = {"task__skill": "operator", "early": TODAY, "likely": TODAY, "late": TODAY}
        duty_of(machine, title="Grease the loader", mark_hours=D(101), **program)
        answer = gate.answer(machine)
        assert answer.is_ready
        assert answer.notes == ("For the operator: Grease the loader will likely fall due on 3 May 2026.",)
        duty_of(machine, title="Check the coolant", mark_hours=D(100), **program)
        assert gate.answer(machine).verdict == "service first"

    def test_duties_that_ended_say_nothing(self, in_farm):
        machine = unit(in_farm)
        duty_of(machine, mark_hours=D(10), active=False)
        assert gate.answer(machine).is_ready

    def test_a_day_is_the_day_of_the_yard(self, in_farm):
        """23:30 UTC on 3 May is 01:30 on 4 May in Madrid, so a date of the 4th is past there."""
        machine = unit(in_farm)
        duty_of(machine, mark_hours=None, mark_on=date(2026, 5, 4))
        assert gate.answer(machine, at=datetime(2026, 5, 3, 21, 59, tzinfo=UTC)).is_ready
        assert not gate.answer(machine, at=datetime(2026, 5, 3, 22, 0, tzinfo=UTC)).is_ready

    def test_many_machines_cost_as_many_queries_as_one(self, in_farm):
        for n in range(12):
            machine = unit(in_farm)
            duty_of(machine, mark_hours=D(90 + n))
            DefectFactory(machine=machine, severity="stops", reported_by=in_farm.counter)
        tag_outs.place(machine=machine, reason="x", member=in_farm.counter)
        counted = []
        for machines in (Machine.objects.all()[:1], Machine.objects.all()):
            with CaptureQueriesContext(
                connection,
            ) as queries:
                gate.answers(machines.select_related("yard__organisation"))
            counted.append(len(queries))
        assert counted == [9, 9]


class TestOut:
    def test_hire_begins_and_hours_come_in(self, in_farm):
        machine = unit(in_farm)
        hire = out(
            in_farm, machine, due_back_on=date(2026, 5, 9), shows=D("104.5"), fuel=88, note="Bucket"
        ).hire
        hire.refresh_from_db()
        machine.refresh_from_db()
        assert (hire.hirer, hire.hours_out, hire.fuel_out, hire.note) == (
            "Gala Ros",
            D("104.50"),
            88,
            "Bucket",
        )
        assert (hire.out_by, hire.back_at) == (in_farm.counter, None)
        assert machine.hours == D("104.50")
        assert Reading.objects.get(source="gate").state == "counted"
        assert machine.state == "out on hire"

    def test_hours_not_read_are_the_machines(self, in_farm):
        machine = unit(in_farm)
        assert out(in_farm, machine).hire.hours_out == 100
        assert not Reading.objects.filter(source="gate").exists()

    @pytest.mark.parametrize("reason", ["", "The hirer waits"])
    def test_tagged_out_never_goes_whoever_asks(self, in_farm, reason):
        machine = unit(in_farm)
        tag_outs.place(machine=machine, reason="Failed safety check: brakes", member=in_farm.technician)
        with pytest.raises(gate.TaggedOut) as refused:
            out(in_farm, machine, member=in_farm.owner, anyway_reason=reason, shows=D(105))
        assert (
            f"Tagged out by {in_farm.technician} on 3 May 2026: Failed safety check" in refused.value.sentence
        )
        assert refused.value.answer.verdict == "tagged out"
        machine.refresh_from_db()
        assert machine.hours == 100
        assert not Hire.objects.exists()

    def test_clearing_names_who_and_why_and_opens_the_gate(self, in_farm):
        machine = unit(in_farm)
        tag_out = tag_outs.place(machine=machine, reason="Brakes", member=in_farm.technician)
        with pytest.raises(NotAllowed):
            tag_outs.clear(tag_out=tag_out, reason="Looks fine", member=in_farm.counter)
        with pytest.raises(FleetError):
            tag_outs.clear(tag_out=tag_out, reason=" ", member=in_farm.manager)
        tag_outs.clear(tag_out=tag_out, reason="Pads changed, stops in 4 m", member=in_farm.manager)
        tag_out.refresh_from_db()
        assert (tag_out.cleared_by, tag_out.clear_reason) == (in_farm.manager, "Pads changed, stops in 4 m")
        assert tag_out.cleared_at == NOW
        assert out(in_farm, machine).hire.pk

    def test_service_first_needs_a_reason_from_someone_who_plans(self, in_farm):
        machine = unit(in_farm)
        duty_of(machine, mark_hours=D(90))
        with pytest.raises(gate.ServiceFirst):
            out(in_farm, machine, member=in_farm.counter, anyway_reason="The hirer waits")
        with pytest.raises(gate.ServiceFirst) as refused:
            out(in_farm, machine, member=in_farm.manager)
        assert refused.value.field == "anyway_reason"
        hire = out(in_farm, machine, member=in_farm.manager, anyway_reason="Short day, oil tomorrow").hire
        [kept] = Hire.objects.get(pk=hire.pk).overrulings()
        assert (kept.reason, kept.by, kept.at) == ("Short day, oil tomorrow", str(in_farm.manager), NOW)
        assert "Engine oil is past its mark" in kept.against[0]

    def test_hours_typed_at_the_gate_can_make_service_come_first(self, in_farm):
        machine = unit(in_farm)
        duty_of(machine, mark_hours=D(104))
        with pytest.raises(gate.ServiceFirst):
            out(in_farm, machine, shows=D(104))
        machine.refresh_from_db()
        assert machine.hours == 100  # refused: nothing is kept
        assert out(in_farm, machine, shows=D("103.9")).hire.pk

    def test_held_hours_do_not_stop_it_and_are_said(self, in_farm):
        machine = unit(in_farm)
        answer = out(in_farm, machine, shows=D(1004))
        assert answer.hire.hours_out == 1004
        assert "are held and don't count yet" in answer.held
        machine.refresh_from_db()
        assert machine.hours == 100

    def test_cannot_go_out_twice(self, in_farm):
        machine = unit(in_farm)
        out(in_farm, machine)
        with pytest.raises(gate.Kept) as refused:
            out(in_farm, machine, hirer="Someone else")
        told = refused.value.sentence
        assert f"out with Gala Ros since 3 May 2026 at 12:00, sent out by {in_farm.counter}, no day" in told
        assert "at 100.0" in told
        assert Hire.objects.count() == 1

    def test_cannot_go_out_of_the_shop(self, in_farm):
        machine = unit(in_farm, in_shop_since=NOW - timedelta(days=1))
        with pytest.raises(gate.Kept) as refused:
            out(in_farm, machine, member=in_farm.owner, anyway_reason="x")
        assert "In the shop since 2 May 2026" in refused.value.sentence

    @pytest.mark.parametrize(
        "values", [{"for_hire": False}, {"retired_on": date(2026, 5, 1)}], ids=["not for hire", "retired"]
    )
    def test_only_units_for_hire(self, in_farm, values):
        machine = unit(in_farm)
        Machine.objects.filter(pk=machine.pk).update(**values)
        with pytest.raises(WrongState):
            out(in_farm, machine)

    @pytest.mark.parametrize(
        ("wrong", "field"),
        [
            ({"hirer": "  "}, "hirer"),
            ({"due_back_on": date(2026, 5, 2)}, "due_back_on"),
            ({"fuel": 101}, "fuel"),
            ({"shows": D("99999999")}, "shows"),
        ],
    )
    def test_wrong_entries_name_their_field(self, in_farm, wrong, field):
        with pytest.raises(FleetError) as refused:
            out(in_farm, unit(in_farm), **wrong)
        assert refused.value.field == field
        assert not Hire.objects.exists()

    def test_strangers_and_others_are_refused(self, in_farm, stranger):
        machine = unit(in_farm)
        for member in (stranger.owner, in_farm.technician):
            with pytest.raises(NotAllowed):
                out(in_farm, machine, member=member)
            with pytest.raises(NotAllowed):
                back(in_farm, machine, member=member)


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
        assert answer.reasons[0].startswith("Engine oil is past its mark")

    def test_implausible_hours_are_held_and_the_return_goes_on(self, in_farm, machine):
        answer = back(in_farm, machine, shows=D(1070))
        hire = Hire.objects.get()
        assert hire.back_at == NOW
        assert hire.hours_back == 1070
        assert Reading.objects.get(source="gate").state == "held"
        assert answer.machine.hours == 100
        assert "held" in answer.held

    def test_faults_become_defects_and_a_grave_one_keeps_it_in(self, in_farm, machine):
        answer = back(
            in_farm,
            machine,
            faults=[gate.Fault("Mirror cracked", "note"), gate.Fault("Hydraulic hose bulging", "stops")],
        )
        assert answer.verdict == "service first"
        assert "Hydraulic hose bulging" in answer.reasons[0]
        found = Defect.objects.order_by("pk").values_list("text", "severity", "found_at", "reported_by")
        assert list(found) == [
            ("Mirror cracked", "note", "gate", in_farm.counter.pk),
            ("Hydraulic hose bulging", "stops", "gate", in_farm.counter.pk),
        ]

    def test_small_faults_do_not_keep_it_in(self, in_farm, machine):
        assert back(in_farm, machine, faults=[gate.Fault("Mirror cracked", "soon")]).is_ready

    def test_a_wrong_fault_undoes_the_whole_return(self, in_farm, machine):
        with pytest.raises(FleetError):
            back(in_farm, machine, shows=D(107), faults=[gate.Fault("ok", "soon"), gate.Fault("", "soon")])
        assert Hire.objects.get().back_at is None
        assert not Defect.objects.exists()
        assert not Reading.objects.filter(source="gate").exists()

    def test_second_return_is_told_who_took_it_in(self, in_farm, machine):
        back(in_farm, machine, shows=D(107), fuel=50)
        with pytest.raises(WrongState) as refused:
            back(in_farm, machine, member=in_farm.manager)
        assert refused.value.sentence.replace("\u202f", " ").replace("\xa0", " ") == (
            f"{machine} is back already. It was taken back by {in_farm.counter} on 3 May 2026 at 12:00 "
            "from Gala Ros, at 107.0 h, tank 50 % full."
        )

    def test_a_return_of_one_hire_does_not_end_the_next(self, in_farm, machine):
        first = Hire.objects.get()
        back(in_farm, machine)
        out(in_farm, machine, hirer="Pau Vila")
        with pytest.raises(WrongState) as refused:
            back(in_farm, machine, member=in_farm.manager, hire=first)
        assert "Since then it went out again. It is out with Pau Vila" in refused.value.sentence
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
            faults=[gate.Fault("Mirror cracked", "soon")],
        )
        hire = Hire.objects.get()
        assert (hire.hours_back, hire.fuel_back, hire.back_by) == (D(107), 50, in_farm.counter)
        assert (hire.note, hire.note_back) == (
            "With trailer",
            f"Muddy\nMirror ({in_farm.manager}, 3 May 2026)",
        )
        assert Defect.objects.get().text == "Mirror cracked"
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
        with pytest.raises(FleetError, match="Nothing was entered"):
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
            self.add(in_farm, ended, shows=D(107), note="x", faults=[gate.Fault("", "soon")])
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
