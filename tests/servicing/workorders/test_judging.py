"""What is entered is judged: limits, and everything that is wrong named at once."""

from datetime import date
from decimal import Decimal as D

import pytest

from fleet.models import TagOut
from servicing.models import CheckResult
from servicing.workorders import CheckEntry, Entries, LabourEntry, LineEntry, PartEntry
from tests.servicing.workorders.work import LATER, NOW, check, close, entries, problems, started

pytestmark = pytest.mark.time_machine(NOW, tick=False)


# ------------------------------------------------------------------ limits


@pytest.mark.parametrize(
    ("limit", "unit", "found", "found_unit", "passes"),
    [
        # NIST SP 811: 1 in = 25.4 mm exactly, so 0.3 in is 7.62 mm
        ("7.62", "mm", "0.3", "in", True),
        ("7.62", "mm", "0.300001", "in", False),
        ("7.62", "mm", "7.62", "mm", True),
        ("7.62", "mm", "7.620001", "mm", False),
        ("0.3", "in", "7.62", "mm", True),
        ("0.3", "in", "7.620001", "mm", False),
        ("0.3", "in", "7.6", "mm", True),
        # NIST SP 811: 1 lbf·ft = 1.3558179483314004 N·m, so 90 lbf·ft is 122.02361534... N·m
        ("122.023616", "N·m", "90", "lbf·ft", True),
        ("122.023615", "N·m", "90", "lbf·ft", False),
        ("90", "lbf·ft", "122.023615", "N·m", True),
        ("90", "lbf·ft", "122.023616", "N·m", False),
    ],
)
def test_a_value_at_the_limit_passes_and_one_last_digit_beyond_does_not(
    in_farm, machine, belt, limit, unit, found, found_unit, passes
):
    belt.task.checks.update(unit=unit, lower=None, upper=D(limit))
    order = started(in_farm, machine, belt)
    entered = entries(order, (found, found_unit, "0.1", unit))
    close(in_farm, order, entered)
    result = CheckResult.objects.get()
    assert result.found_passes is passes
    assert result.left_passes is True
    assert (result.as_found, result.found_unit) == (f"{found} {found_unit}", found_unit), "kept as typed"


def test_a_result_keeps_the_limits_that_held_then(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    close(in_farm, order, entries(order, ("8.5",)))
    belt.task.checks.update(upper=D(8))
    result = CheckResult.objects.get()
    assert (result.label, result.lower, result.upper, result.unit) == ("Belt deflection", 7, 9, "mm")
    assert (result.recorded_by, result.recorded_at) == (in_farm.technician, NOW)


def test_out_of_limits_as_found_demands_as_left(in_farm, machine, belt):
    order = started(in_farm, machine, belt)
    line = order.lines.get()
    left = f"lines-{line.pk}-checks-{belt.task.checks.get().pk}-left"
    assert problems(in_farm, order, entries(order, ("11",)))[left].startswith("Out of limits as found")
    assert problems(in_farm, order, entries(order, ("11", "", "9.5")))[left].startswith("Still out of limits")
    closed = close(in_farm, order, entries(order, ("11", "", "8"), outcome="adjusted"))
    assert closed.lines.get().results.get().passes is True


@pytest.mark.parametrize(
    "outcome",
    [{"outcome": "deferred", "deferred_until": LATER}, {"outcome": "referred"}],
    ids=["deferred", "referred"],
)
def test_what_is_left_or_referred_may_stay_out_of_limits(in_farm, machine, belt, outcome):
    order = started(in_farm, machine, belt)
    line = order.lines.get()
    entered = Entries(
        lines=[LineEntry(line.pk, reason="belt cracked", checks=[check(line, "11")], **outcome)],
        hours=D(1004),
    )
    close(in_farm, order, entered)
    belt.refresh_from_db()
    assert (belt.mark_hours, belt.last_hours) == (1000, None), "the work isn't done, so the mark stays"
    assert line.results.get().found_passes is False
    assert not TagOut.objects.exists()
    assert belt.deferred_until == outcome.get("deferred_until")


# ------------------------------------------------------------------ everything wrong is named at once


def test_every_problem_is_named_at_its_field(in_farm, machine, belt, brake):
    order = started(in_farm, machine, brake, belt)
    one, two = order.lines.get(duty=brake), order.lines.get(duty=belt)
    number = belt.task.checks.get().pk
    entered = Entries(
        lines=[
            LineEntry(one.pk, "deferred", deferred_until=date(2026, 5, 4)),
            LineEntry(two.pk, "done", checks=[check(two, "abc")]),
        ],
        parts=[PartEntry(10**6, D(1))],
        labour=[LabourEntry(10**6, 5)],
    )
    found = problems(in_farm, order, entered)
    assert found == {
        f"lines-{one.pk}-reason": "Say why it is deferred.",
        f"lines-{one.pk}-deferred_until": "Choose a day after today.",
        f"lines-{two.pk}-checks-{number}-found": "“abc” is not a number; write it like 7.5.",
        "parts-1000000-part": "No such part; choose another.",
        "labour-1000000-technician": "No such technician; choose another.",
        "hours": "Enter what the hour meter shows.",
    }


def test_outcomes_and_values_are_demanded(in_farm, machine, belt, brake):
    order = started(in_farm, machine, brake, belt)
    one, two = order.lines.get(duty=brake), order.lines.get(duty=belt)
    entered = Entries(lines=[LineEntry(two.pk, "done")], hours=D(1004))
    assert problems(in_farm, order, entered) == {
        f"lines-{one.pk}-outcome": "Choose an outcome.",
        f"lines-{two.pk}-checks-{belt.task.checks.get().pk}-found": "Enter what you found.",
    }
    entered = Entries(lines=[LineEntry(one.pk, "referred"), LineEntry(two.pk, "mended")], hours=D(1004))
    assert problems(in_farm, order, entered) == {
        f"lines-{one.pk}-reason": "Say what the dealer or licensed shop should look at.",
        f"lines-{two.pk}-outcome": "Choose one of: done, adjusted, deferred, referred, not fitted.",
    }


@pytest.mark.parametrize(
    ("values", "says"),
    [
        (("1,204",), "can be read in two ways"),
        (("8", "kPa"), "The limit is in mm; enter the value in mm, in"),
        (("0.1234567",), "at most 8 digits before the point and 6 after"),
    ],
)
def test_values_that_cannot_be_judged(in_farm, machine, belt, values, says):
    order = started(in_farm, machine, belt)
    assert [says in sentence for sentence in problems(in_farm, order, entries(order, values)).values()] == [
        True
    ]


def test_a_word_that_is_no_choice(in_farm, machine, brake):
    order = started(in_farm, machine, brake)
    assert list(problems(in_farm, order, entries(order, ("maybe",))).values()) == [
        "Choose one of: passes, fails."
    ]


def test_lines_and_checks_of_another_order_are_refused(in_farm, machine, belt, brake):
    order = started(in_farm, machine, belt)
    line = order.lines.get()
    other = brake.task.checks.get().pk
    entered = Entries(
        lines=[
            LineEntry(line.pk, "done", checks=[check(line, "8"), CheckEntry(other, "passes")]),
            LineEntry(10**6, "done"),
        ],
        hours=D(1004),
    )
    assert problems(in_farm, order, entered) == {
        f"lines-{line.pk}-checks-{other}-check": "This check doesn't belong to the line.",
        "lines-1000000-line": "This line doesn't belong to the order.",
    }
