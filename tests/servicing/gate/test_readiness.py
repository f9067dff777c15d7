"""Can it go out? Rental practice is common practice, no source, unless a source is named."""

from datetime import UTC, date, datetime
from decimal import Decimal as D

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.machines import tag_outs
from fleet.models import Machine
from servicing import gate
from tests.factories import FaultFactory
from tests.servicing.gate.hire_units import NOW, TODAY, duty_of, unit

pytestmark = pytest.mark.time_machine(NOW, tick=False)


class TestAnswer:
    def test_nothing_against_it(self, in_farm):
        machine = unit(in_farm)
        duty_of(machine, early=date(2026, 5, 8), likely=date(2026, 5, 20), late=date(2026, 6, 9))
        FaultFactory(machine=machine, severity="soon")
        answer = gate.answer(machine)
        assert answer.is_ready
        assert answer.reasons == ()

    def test_tag_out_is_gravest_and_says_who_and_why(self, in_farm):
        machine = unit(in_farm)
        FaultFactory(machine=machine, severity="stops", text="Brake pedal soft", reported_by=in_farm.counter)
        tag_outs.place(machine=machine, reason="Brakes failed", member=in_farm.technician)
        answer = gate.answer(machine)
        assert answer.verdict == "tagged out"
        assert answer.reasons == (
            f"Tagged out by {in_farm.technician} on 3 May 2026: Brakes failed.",
            f"Fault to fix first (reported by {in_farm.counter} on Sun\xa03\xa0May): Brake pedal soft.",
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
        assert reason.replace("\xa0", " ") == "Engine oil is overdue: due at 98.5 h, now 100.0 h."

    def test_a_mark_brought_forward_says_why(self, in_farm):
        machine, drifts = unit(in_farm), "Belt deflection nears its limit of 9 mm at about 98 h"
        early = {"rule_hours": D(150), "forward_reason": drifts}
        overdue = duty_of(machine, mark_hours=D("98.5"), forward_hours=D("98.5"), **early)
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
        assert len({overdue.pk, soon.pk}) == len(reasons) == 2
        assert all(each.endswith(f"It is due earlier: {drifts}.") for each in reasons)

    def test_deferred_work_still_comes_first_and_says_until_when(self, in_farm):
        machine = unit(in_farm)
        duty_of(
            machine, mark_hours=D(90), deferred_until=date(2026, 5, 9), deferred_reason="No filter in stock"
        )
        answer = gate.answer(machine)
        assert answer.verdict == "service first"
        assert answer.reasons[0].endswith("Deferred until Sat\xa09\xa0May: No filter in stock.")

    @pytest.mark.parametrize(("likely", "verdict"), [(6, "service first"), (7, "ready")])
    def test_margin_of_days_of_the_organisation(self, in_farm, likely, verdict):
        """The organisation's margin is three days: the 6th is within it, the 7th is not."""
        machine = unit(in_farm)
        duty_of(machine, early=date(2026, 5, 4), likely=date(2026, 5, likely), late=date(2026, 5, 30))
        answer = gate.answer(machine)
        assert answer.verdict == verdict
        if verdict != "ready":
            assert answer.reasons == (
                "Engine oil is likely to fall due on Wed\xa06\xa0May (4\xa0May to 30\xa0May).",
            )

    @pytest.mark.parametrize(
        ("due_back", "chance"),
        [
            (9, None),
            (10, "perhaps fall due (1 to 5 chances in 10)"),
            (15, "probably fall due (5 to 9 chances in 10)"),
            (25, "almost certainly fall due (at least 9 chances in 10)"),
        ],
    )
    def test_length_of_the_hire_counts_and_the_sentence_says_how_sure(self, in_farm, due_back, chance):
        machine = unit(in_farm)
        duty_of(machine, early=date(2026, 5, 10), likely=date(2026, 5, 15), late=date(2026, 5, 25))
        answer = gate.answer(machine, due_back_on=date(2026, 5, due_back))
        assert answer.is_ready is (chance is None)
        if chance:
            assert chance in answer.reasons[0]
            assert "before it is back on " in answer.reasons[0]
            assert f"{due_back}\xa0May" in answer.reasons[0]

    def test_daily_care_ahead_is_a_note_and_past_it_counts(self, in_farm):
        machine = unit(in_farm)
        program = {"task__skill": "operator", "early": TODAY, "likely": TODAY, "late": TODAY}
        duty_of(machine, task__title="Grease the loader", mark_hours=D(101), **program)
        answer = gate.answer(machine)
        assert answer.is_ready
        assert answer.notes == ("The operator should do one task by Sun\xa03\xa0May: Grease the loader.",)
        duty_of(machine, task__title="Check the coolant", mark_hours=D(100), **program)
        assert gate.answer(machine).verdict == "service first"

    def test_duties_that_ended_say_nothing(self, in_farm):
        machine = unit(in_farm)
        duty_of(machine, mark_hours=D(10), active=False)
        assert gate.answer(machine).is_ready

    def test_a_day_is_the_day_of_the_yard(self, in_farm):
        """23:30 UTC on 3 May is 01:30 on 4 May in Madrid, so a date of the 4th is reached there."""
        machine = unit(in_farm)
        duty_of(machine, mark_hours=None, mark_on=date(2026, 5, 4))
        assert gate.answer(machine, at=datetime(2026, 5, 3, 21, 59, tzinfo=UTC)).is_ready
        assert not gate.answer(machine, at=datetime(2026, 5, 3, 22, 0, tzinfo=UTC)).is_ready

    def test_many_machines_cost_as_many_queries_as_one(self, in_farm):
        for n in range(12):
            machine = unit(in_farm)
            duty_of(machine, mark_hours=D(90 + n))
            FaultFactory(machine=machine, severity="stops", reported_by=in_farm.counter)
        tag_outs.place(machine=machine, reason="x", member=in_farm.counter)
        counted = []
        for machines in (Machine.objects.all()[:1], Machine.objects.all()):
            with CaptureQueriesContext(
                connection,
            ) as queries:
                gate.answers(machines.select_related("yard__organisation"))
            counted.append(len(queries))
        assert counted == [9, 9]
