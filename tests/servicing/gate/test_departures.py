"""Units go out. Rental practice is common practice, no source, unless a source is named."""

from datetime import date, timedelta
from decimal import Decimal as D

import pytest

from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.machines import tag_outs
from fleet.models import Hire, Machine, Reading
from servicing import gate
from tests.factories import BookingFactory
from tests.servicing.gate.hire_units import NOW, TODAY, back, duty_of, out, unit

pytestmark = pytest.mark.time_machine(NOW, tick=False)


@pytest.mark.parametrize(("days", "offered"), [(14, True), (15, False)])
def test_a_booking_that_begins_within_a_fortnight_may_be_the_one(in_farm, days, offered):
    machine, first = unit(in_farm), TODAY + timedelta(days=days)
    booking = BookingFactory(machine=machine, first_on=first, last_on=first + timedelta(days=2))
    assert list(gate.bookings_near(machine)) == ([booking] if offered else [])


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
        assert "Engine oil is overdue" in kept.against[0]

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
        assert (
            f"out with Gala Ros since Sun\xa03\xa0May at 12:00, sent out by {in_farm.counter}, no return day"
            in told
        )
        assert "at 100.0" in told
        assert Hire.objects.count() == 1

    def test_cannot_go_out_of_the_shop(self, in_farm):
        machine = unit(in_farm, in_shop_since=NOW - timedelta(days=1))
        with pytest.raises(gate.Kept) as refused:
            out(in_farm, machine, member=in_farm.owner, anyway_reason="x")
        assert "In the shop since Sat\xa02\xa0May" in refused.value.sentence

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
