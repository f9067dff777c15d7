"""Hours and safety values corrected on a closed order."""

import pytest

from fleet.core.errors import FleetError
from fleet.models import TagOut
from fleet.readings import decisions
from servicing import workorders
from servicing.measurements import retest
from servicing.models import Amendment
from servicing.workorders import NotReady
from tests.servicing.workorders.corrections import CLOSED, amend, changed, close_with
from tests.servicing.workorders.work import started

pytestmark = pytest.mark.time_machine(CLOSED, tick=False)


@pytest.mark.parametrize("role", ["technician", "manager"])
def test_the_meters_figure_is_corrected_by_a_new_reading_and_the_marks_follow(in_farm, machine, belt, role):
    order = close_with(in_farm, started(in_farm, machine, belt), found="8", hours="1040")
    amend(order, getattr(in_farm, role), found="8", hours="1004", why="Read the wrong line.")
    order.refresh_from_db()
    belt.refresh_from_db()
    machine.refresh_from_db()
    assert (order.hours_at_close, belt.last_hours, machine.hours) == (1004, 1004, 1004)
    assert order.lines.get().done_hours == 1004
    assert {(r.shows, r.state) for r in machine.readings.filter(taken_at=CLOSED)} == {
        (1040, "discarded"),
        (1004, "counted"),
    }
    assert {("The hour meter showed", "1040 h", "1004 h"), ("Closed at", "1040 h", "1004 h")} <= changed(
        order
    )[0]

    # and once more, on the reading that stands now
    amend(order, getattr(in_farm, role), found="8", hours="1005")
    assert workorders.reading_of(order).shows == 1005


def test_hours_withdrawn_since_are_asked_for_anew_only_if_they_change(in_farm, machine, belt):
    order = close_with(in_farm, started(in_farm, machine, belt), found="8", hours="1040")
    decisions.discard(reading=workorders.reading_of(order), member=in_farm.manager, note="Another tractor's.")
    amend(order, in_farm.technician, found="7.5")  # says nothing of the hours
    order.refresh_from_db()
    assert order.hours_at_close == 1040
    with pytest.raises(NotReady) as refused:
        amend(order, in_farm.manager, found="7.5", hours="1040")
    assert [each.path for each in refused.value.problems] == [("hours",)]
    amend(order, in_farm.manager, found="7.5", hours="1004")
    order.refresh_from_db()
    assert order.hours_at_close == 1004


def test_a_safety_value_that_failed_after_all_tags_out_and_a_pass_clears_nothing(in_farm, machine, brake):
    order = close_with(in_farm, started(in_farm, machine, brake), found="passes")
    assert not TagOut.objects.open().exists()
    amend(order, in_farm.technician, outcome="referred", reason="Brake slips.", found="fails")
    tag_out = TagOut.objects.open().get(machine=machine)
    assert "Brake holds: fails" in tag_out.reason

    order.refresh_from_db()
    amend(order, in_farm.technician, outcome="done", found="passes")
    assert TagOut.objects.open().get() == tag_out
    assert workorders.stored(order).lines[0].checks[0].found == "passes"
    with pytest.raises(FleetError):
        retest.clear(tag_out=tag_out, reason="It said so.", re_tests={}, member=in_farm.manager)
    (failure,) = retest.failing(machine)
    again = {failure.pk: retest.ReTest("passes")}
    retest.clear(tag_out=tag_out, reason="Held on the slope.", re_tests=again, member=in_farm.manager)


def test_a_refused_correction_that_tells_of_a_failed_safety_check_tags_out(in_farm, machine, brake):
    order = close_with(in_farm, started(in_farm, machine, brake), found="passes")
    with pytest.raises(NotReady):
        amend(order, in_farm.technician, outcome="referred", found="fails", hours="900000")  # nor why
    assert "Brake holds: fails" in TagOut.objects.open().get(machine=machine).reason
    assert workorders.stored(order).lines[0].checks[0].found == "passes"
    assert not Amendment.objects.exists()
