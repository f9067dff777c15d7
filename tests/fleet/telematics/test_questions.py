"""The right machine or a question: what contradicts the record waits, and what was decided is remembered."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import translation

from fleet.models import Reading, TelematicsSource, TelematicsUnit
from fleet.telematics import linking
from fleet.telematics import poll as telematics
from fleet.telematics.questions import sides
from tests.factories import MachineTypeFactory
from tests.fleet.telematics.conftest import NOW, unit

pytestmark = pytest.mark.django_db


def read(source, *, later=0):
    assert telematics.read(source=source, forced=True, now=NOW + timedelta(minutes=later))
    return TelematicsUnit.objects.select_related("machine", "proposed").order_by("pk")


def waits(told, *mentions):
    assert told.machine is None
    assert not told.ignored
    for words in mentions:
        assert words in told.hint, told.hint
    return told


def test_a_serial_of_one_machine_and_the_tag_of_another_ask(in_farm, source, machine, provider):
    other = in_farm.machine(tag="T-08", serial="K-2")
    provider.told[:] = [unit(serial="K-1", equipment_id="T-08")]
    told = waits(*read(source), "Is this T-07?", "K-1 is that of T-07.", "T-08 is that of T-08.")
    assert told.proposed == machine
    assert not Reading.objects.exists()
    assert (told.hours, told.receipt) == ("104.5", "")  # kept and shown
    assert "1 of them with a question" in source_said(source)
    linking.tie(unit=told, machine=machine, member=in_farm.manager)
    assert machine.readings.get().shows == Decimal("104.50")
    for later in (1, 2):
        (told,) = read(source, later=later)
        assert (told.machine, told.hint) == (machine, "")
    assert other.readings.count() == 0


def source_said(source):
    return TelematicsSource.objects.get(pk=source.pk).outcome


def test_a_clearly_other_maker_or_model_asks(in_farm, source, provider):
    kind = MachineTypeFactory(organisation=in_farm.organisation, maker="Brava", model="B 48")
    in_farm.machine(tag="T-04", serial="TB-00471", type=kind)
    provider.told[:] = [unit(maker="Kelvarn", model="B 48", serial="TB-00471")]
    waits(*read(source), "Is this T-04?", "Maker: Kelvarn is sent, Brava is on record.")
    provider.told[:] = [unit(maker="Brava GmbH", model="B 60", serial="TB-00471")]
    waits(read(source, later=1).last(), "Model: B 60 is sent, B 48 is on record.")
    provider.told[:] = [unit(maker="BRAVA", model="unknown", serial="TB-00471")]
    told = read(source, later=2).last()
    assert (told.machine.tag, told.hint, told.proposed) == ("T-04", "", None)


def test_both_sides_are_shown(in_farm, source, machine, provider):
    provider.told[:] = [unit(serial="K-9", equipment_id="t07")]
    (told,) = read(source)
    shown = {side.fact: (side.sent, side.recorded, side.verdict) for side in sides(told)}
    assert shown["serial"] == ("K-9", "K-1", "differs")
    assert shown["equipment_id"] == ("t07", "T-07", "agrees")
    assert shown["maker"] == ("Haldane", "Haldane", "agrees")


def test_a_box_that_moved_asks_and_its_hours_wait(in_farm, source, machine, provider):
    provider.told[:] = [unit(serial="K-1", equipment_id="BOX-17")]
    read(source)
    provider.told[:] = [
        unit(serial="Z-9", equipment_id="BOX-17", hours="110", hours_at="2026-03-02T05:50:00Z")
    ]
    told = waits(*read(source, later=1), "Is this T-07?", "Z-9 is sent now, K-1 was sent before.")
    assert told.proposed == machine
    assert machine.readings.count() == 1
    assert [side.before for side in sides(told) if side.fact == "serial"] == ["K-1"]
    linking.tie(unit=told, machine=machine, member=in_farm.manager)  # a new serial number on the plate
    assert machine.readings.count() == 2
    (told,) = read(source, later=2)
    assert (told.machine, told.hint) == (machine, "")


def test_an_equipment_id_that_changed_asks_and_another_machine_may_be_the_answer(
    in_farm, source, machine, provider
):
    other = in_farm.machine(tag="T-08")
    provider.told[:] = [unit(equipment_id="North")]
    read(source)
    provider.told[:] = [unit(equipment_id="South", hours="110", hours_at="2026-03-02T05:50:00Z")]
    told = waits(*read(source, later=1), "South is sent now, North was sent before.")
    linking.tie(unit=told, machine=other, member=in_farm.manager)
    assert other.readings.get().shows == 110
    (told,) = read(source, later=2)
    assert told.machine == other  # the record of T-07 still has its serial number; a person said so
    provider.told[:] = [unit(equipment_id="East")]
    waits(*read(source, later=3), "Is this T-08?")


def test_the_old_numbers_again_need_no_answer(source, machine, provider):
    provider.told[:] = [unit(equipment_id="North")]
    read(source)
    provider.told[:] = [unit(equipment_id="South")]
    waits(*read(source, later=1))
    provider.told[:] = [unit(equipment_id="North")]
    (told,) = read(source, later=2)
    assert (told.machine, told.hint, told.matched_by) == (machine, "", "serial")


def test_a_record_that_is_changed_is_held_against_the_tie(source, machine, provider):
    read(source)
    machine.serial = "K-77"
    machine.save()
    waits(*read(source, later=1), "Serial number: K-1 is sent, K-77 is on record.")


def test_a_number_that_comes_later_is_remembered_and_one_left_out_is_no_change(source, machine, provider):
    read(source)
    provider.told[:] = [unit(equipment_id="North")]
    (told,) = read(source, later=1)
    assert (told.machine, told.known["equipment_id"]) == (machine, "North")
    provider.told[:] = [unit()]
    (told,) = read(source, later=2)
    assert told.machine == machine
    provider.told[:] = [unit(equipment_id="South")]
    waits(*read(source, later=3), "South is sent now, North was sent before.")


def test_an_ignored_unit_asks_once_its_numbers_are_others(in_farm, source, machine, provider):
    provider.told[:] = [unit(serial="", equipment_id="LOAN 3", pin="1XMT100XABC000123")]
    linking.ignore(unit=read(source)[0], member=in_farm.manager)
    (told,) = read(source, later=1)
    assert told.ignored
    provider.told[:] = [unit(serial="K-1", equipment_id="LOAN 4", pin="1XMT100XABC000123")]
    for later in (2, 3):
        told = waits(*read(source, later=later), "Is this T-07?", "It was ignored with other numbers.")
    assert machine.readings.count() == 0
    provider.told[:] = [unit(serial="", equipment_id="LOAN 3", pin="1XMT100XABC000123")]
    (told,) = read(source, later=4)
    assert told.ignored


def test_boxes_that_changed_places_both_ask(in_farm, source, machine, provider):
    in_farm.machine(tag="T-08", serial="K-2")
    provider.told[:] = [unit(equipment_id="BOX-1"), unit(serial="K-2", equipment_id="BOX-2")]
    read(source)
    provider.told[:] = [unit(equipment_id="BOX-2"), unit(serial="K-2", equipment_id="BOX-1")]
    for told in read(source, later=1):
        waits(told, "is sent now", "was sent before")
    assert Reading.objects.count() == 2


def test_a_serial_in_another_spelling_beats_an_equipment_id_when_a_unit_is_found_again(
    in_farm, source, machine, provider
):
    provider.told[:] = [unit(serial="K-1", equipment_id="BOX-1")]
    read(source)
    provider.told[:] = [unit(serial="Z-9", equipment_id="BOX-1"), unit(serial="k 1")]
    found = {told.serial: told for told in read(source, later=1)}
    assert found["k 1"].machine == machine
    assert found["Z-9"].machine is None


def test_two_things_wrong_at_once_are_both_said(in_farm, source, machine, provider):
    provider.told[:] = [unit(serial="K-1", maker="Kelvarn", hours="many", hours_at="soon")]
    told = waits(*read(source), "Maker: Kelvarn is sent, Haldane is on record.")
    assert (told.hours, told.hours_at) == ("many", "soon")
    tied = linking.tie(unit=told, machine=machine, member=in_farm.manager)
    assert tied.receipt == "refused"
    assert "can't be read" in tied.receipt_reason


def test_two_records_with_one_serial_number_ask(in_farm, source, provider):
    in_farm.machine(tag="T-04", serial="TB-471")
    in_farm.machine(tag="T-05", serial="TB471")
    provider.told[:] = [unit(serial="tb 471")]
    waits(*read(source), "tb 471 is that of T-04, T-05.")


def test_an_equipment_id_that_is_a_serial_number_ties_when_it_is_long_enough_to_tell(
    in_farm, source, provider
):
    in_farm.machine(tag="T-04", serial="TB-00471")
    in_farm.machine(tag="P-1", serial="1187")
    provider.told[:] = [unit(serial="", equipment_id="tb00471"), unit(serial="", equipment_id="1187")]
    found = {told.equipment_id: told for told in read(source)}
    assert found["tb00471"].machine.tag == "T-04"
    waits(found["1187"], "P-1 has 1187; 1187 is sent.")


def test_near_misses_are_offered_and_never_linked(in_farm, source, provider):
    in_farm.machine(tag="A-1", serial="TB-00471")
    provider.told[:] = [unit(serial="TB-00477")]
    told = waits(*read(source), "A-1 has TB-00471; TB-00477 is sent. Is it that one?")
    assert told.proposed.tag == "A-1"


def test_the_same_number_on_many_units_identifies_nothing(in_farm, source, machine, provider):
    provider.told[:] = [unit(serial="K-1", equipment_id=f"box {n}") for n in range(3)]
    found = read(source)
    assert len(found) == 3
    for told in found:
        waits(told, "Serial number: K-1 is that of 3 units of this source", "K-1 is that of T-07.")


def test_one_serial_number_of_two_makers_is_that_of_the_right_maker(in_farm, source, provider):
    brava = MachineTypeFactory(organisation=in_farm.organisation, maker="Brava", model="B 48")
    in_farm.machine(tag="P-1", serial="1187", type=brava)
    provider.told[:] = [unit(maker="Nakurei", serial="1187"), unit(maker="Brava", serial="1187")]
    found = {told.maker: told for told in read(source)}
    assert found["Brava"].machine.tag == "P-1"
    waits(found["Nakurei"], "Maker: Nakurei is sent, Brava is on record.")


def test_units_that_nothing_tells_apart_are_told_and_count_nothing(source, machine, provider):
    provider.told[:] = [unit(serial="0", equipment_id="-"), unit(serial="0", equipment_id="-", hours="7")]
    waits(*read(source), "2 units of this source say the same of themselves")
    assert not Reading.objects.exists()


def test_several_units_that_are_equally_sure_all_ask(in_farm, source, provider):
    in_farm.machine(tag="T-04", serial="S-1", pin="1XMT100XABC000123")
    provider.told[:] = [unit(serial="S-1"), unit(serial="1XMT100XABC000123")]
    for told in read(source):
        waits(told, "Is this T-04?", "Several units of this source say they are T-04.")


class TestFiguresInDoubt:
    def states(self, machine):
        return list(machine.readings.order_by("shows").values_list("shows", "state", "code"))

    def test_two_figures_of_one_moment_are_both_held(self, in_farm, source, machine, provider):
        provider.told[:] = [unit(), unit(hours="120.25")]
        for later in (0, 1):
            (told,) = read(source, later=later)
            assert self.states(machine) == [
                (Decimal("104.50"), "held", "in_doubt"),
                (Decimal("120.25"), "held", "in_doubt"),
            ]
            assert told.receipt == "held"
            assert "104.5" in told.receipt_reason
            assert "120.25" in told.receipt_reason

    def test_they_stay_so_whatever_comes_later(self, source, machine, provider):
        provider.told[:] = [unit(), unit(hours="105.25")]
        read(source)
        provider.told[:] = [unit(hours="105.5", hours_at="2026-03-02T05:55:00Z")]
        read(source, later=1)
        assert [state for _, state, _ in self.states(machine)] == ["held", "held", "counted"]

    def test_one_figure_rounded_in_two_ways_is_one(self, source, machine, provider):
        provider.told[:] = [unit(hours="104.54"), unit(hours="104.5")]
        read(source)
        assert [state for _, state, _ in self.states(machine)] == ["counted"]

    def test_so_it_is_in_two_snapshots(self, source, machine, provider):
        read(source)
        provider.told[:] = [unit(hours="104.54")]
        (told,) = read(source, later=1)
        assert self.states(machine) == [(Decimal("104.50"), "counted", "ok")]
        assert told.receipt_reason == "This reading was received already."

    def test_a_correction_is_put_to_a_person(self, source, machine, provider):
        read(source)
        provider.told[:] = [unit(hours="98.25")]
        for later in (1, 2):
            (told,) = read(source, later=later)
            assert self.states(machine) == [
                (Decimal("98.25"), "held", "in_doubt"),
                (Decimal("104.50"), "counted", "ok"),
            ]
        assert "98.25" in told.receipt_reason

    def test_both_figures_of_a_waiting_unit_come_with_the_answer(self, in_farm, source, machine, provider):
        provider.told[:] = [unit(serial="odd"), unit(serial="odd", hours="120")]
        (told,) = read(source)
        assert told.other_hours
        linking.tie(unit=told, machine=machine, member=in_farm.manager)
        assert [state for _, state, _ in self.states(machine)] == ["held", "held"]


class TestSilence:
    def test_gone_from_the_snapshot(self, in_farm, source, machine, provider):
        other = in_farm.machine(tag="T-08", serial="K-2")
        provider.told[:] = [unit(), unit(serial="K-2")]
        read(source)
        assert not TelematicsUnit.objects.silent(NOW).exists()
        provider.told[:] = [unit()]
        read(source, later=5)
        (gone,) = TelematicsUnit.objects.silent(NOW)
        assert (gone.machine, gone.is_gone) == (other, True)

    @pytest.mark.parametrize(("days", "silent"), [(6.9, False), (7.1, True)])
    def test_no_report_for_as_many_days_as_the_source_says(self, source, machine, provider, days, silent):
        read(source)
        told = TelematicsUnit.objects.get()
        assert told.reported_at.isoformat() == "2026-03-02T05:41:00+00:00"
        now = told.reported_at + timedelta(days=days)
        telematics.read(source=source, forced=True, now=now)
        assert TelematicsUnit.objects.silent(now).exists() is silent
        TelematicsSource.objects.update(silent_days=30)
        assert not TelematicsUnit.objects.silent(now).exists()

    def test_neither_of_a_retired_machine_nor_of_a_source_switched_off(self, source, machine, provider):
        read(source)
        late = NOW + timedelta(days=30)
        assert TelematicsUnit.objects.silent(late).exists()
        TelematicsSource.objects.update(active=False)
        assert not TelematicsUnit.objects.silent(late).exists()
        TelematicsSource.objects.update(active=True)
        machine.retired_on = NOW.date()
        machine.save()
        assert not TelematicsUnit.objects.silent(late).exists()

    def test_a_source_that_is_not_read_for_a_day(self, source, machine, provider):
        read(source)
        provider.special["/Fleet/1"] = lambda handler: handler.answer(500, b"")
        for hours, unread in ((23, False), (25, True)):
            now = NOW + timedelta(hours=hours)
            telematics.read(source=source, forced=True, now=now)
            assert TelematicsSource.objects.unread(now).exists() is unread


def test_a_question_in_german(in_farm, source, machine, provider):
    provider.told[:] = [unit(serial="K-9", equipment_id="T-07")]
    with translation.override("de"):
        (told,) = read(source)
    assert told.hint.startswith("Ist das T-07?")
    assert "Seriennummer: gesendet wird K-9, eingetragen ist K-1." in told.hint
