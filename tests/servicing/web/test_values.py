"""The page of measured values, and where the reason of an earlier duty is shown."""

import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal as D

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.factories import CheckFactory
from tests.servicing.duties.test_value_trends import (  # noqa: F401
    BENT,
    NOW,
    STEADY,
    check,
    machine,
    measured,
    with_kin,
)

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def page(farm, machine, role="technician"):  # noqa: F811
    answer = farm.client(role).get(reverse("machine-drift", args=[machine.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def test_a_steady_drift_names_hours_days_and_the_duty(farm, machine, check):  # noqa: F811
    measured(machine, check, *STEADY)
    said = page(farm, machine)
    assert "1 value is heading for a limit" in said
    assert "Reaches 9&nbsp;mm at about 460&nbsp;h" in said
    assert "(424 to 470&nbsp;h)" in said, "half a step of the gauge late, and early if it speeds up"
    assert "is due earlier: at 460.0\u00a0h instead of 500.0\u00a0h" in said
    assert "Per 100&nbsp;h: 0.500 mm (80&nbsp;% interval 0.500 to 0.500); least squares 0.500 ± 0.000" in said
    assert said.count("<circle") == 4
    likely = re.search(r"likely on <b>\w+\u00a0(\d+)\u00a0May", said)
    assert likely, "20 h at two hours a day, which a machine alone in its fleet runs a little less surely"
    assert 13 <= int(likely[1]) <= 15


def test_what_heads_for_a_limit_or_is_outside_stands_open(farm, machine, check):  # noqa: F811
    measured(machine, check, *STEADY)
    assert re.search(r'<details class="more chapter drift" id="check-\d+" open>', page(farm, machine))


def test_what_goes_to_and_fro_is_folded_with_its_last_value_beside(farm, machine, check):  # noqa: F811
    measured(machine, check, (100, "8.6"), (200, "8.8"), (300, "8.5"), (400, "8.70"))
    said = page(farm, machine)
    assert re.search(r'<details class="more chapter drift" id="check-\d+">', said)
    summary = said.split('chapter drift"')[1].split("</summary>")[0]
    assert "Last 8.7&nbsp;mm, limit 7 to 9 mm" in summary
    assert "No clear trend." in summary


def test_what_was_left_outside_the_limits_stands_open(farm, machine, check):  # noqa: F811
    measured(machine, check, (100, "8.6"), (200, "8.8"), (300, "8.5"), (400, "9.4"))
    said = page(farm, machine)
    assert re.search(r'<details class="more chapter drift" id="check-\d+" open>', said)
    assert "outside limits" in said.split('chapter drift"')[1].split("</summary>")[0]


def test_too_few_values_are_said_so(farm, machine, check):  # noqa: F811
    measured(machine, check, (100, "8"), (200, "9.2", "8"), (300, "8.3"))
    said = page(farm, machine)
    assert "Not enough values yet: 2 of 4 since the last adjustment" in said
    assert said.count("chart-left") == 1
    assert said.count("chart-outside") == 1


def test_an_unmeasured_check_is_named(farm, machine, check):  # noqa: F811
    measured(machine, check)
    said = page(farm, machine)
    assert "Nothing has been measured on this machine yet" in said
    assert "Not measured yet (1)" in said


def test_to_and_fro_says_no_direction(farm, machine, check):  # noqa: F811
    measured(machine, check, (100, "8.6"), (200, "8.8"), (300, "8.5"), (400, "8.7"))
    assert "No clear trend" in page(farm, machine)


@pytest.mark.parametrize("name", ["machine", "ahead", "today", "order-new"])
def test_the_reason_stands_wherever_the_duty_does(farm, machine, check, name):  # noqa: F811
    measured(machine, check, *STEADY)
    address = reverse(name, args=[machine.pk] if name == "machine" else [])
    asked = {"machine": machine.pk} if name == "order-new" else {}
    said = farm.client("manager").get(address, asked).content.decode()
    assert "Belt deflection nears its limit of 9\u00a0mm at about 460\u00a0h" in said


def test_a_stranger_finds_nothing(stranger, machine, check):  # noqa: F811
    answer = stranger.client("owner").get(reverse("machine-drift", args=[machine.pk]))
    assert answer.status_code == 404


def test_a_constant_number_of_queries(farm, machine, check):  # noqa: F811
    measured(machine, check, *STEADY)

    def queries():
        with CaptureQueriesContext(connection) as asked:
            page(farm, machine)
        return len(asked)

    few = queries()
    for n in range(5):
        more = CheckFactory(task=check.task, code=f"more-{n}", lower=D(1), upper=D(9))
        measured_again(machine, more, n)
    assert queries() == few


def measured_again(machine, check, number):  # noqa: F811
    """Four values of another check on the orders that are there."""
    from servicing.models import CheckResult, Line

    for n, line in enumerate(Line.objects.filter(task=check.task)):
        CheckResult.objects.create(
            organisation=machine.organisation, line=line, check_made=check, kind="measure", label=check.label,
            unit="mm", upper=D(9), found_value=D(2) + n, found_unit="mm", found_passes=True,
            recorded_at=datetime.now(UTC) - timedelta(days=number),
        )  # fmt: skip


def test_a_bent_path_is_drawn_and_said(farm, machine, check):  # noqa: F811
    measured(machine, check, *BENT)
    with_kin(machine, check)
    said = page(farm, machine)
    words = re.search(
        r"Faster and faster: the last (\d+)&nbsp;h took it as far as the (\d+)&nbsp;h before", said
    )
    second, first = map(int, words.groups())
    assert second < first
    assert abs(second + first - 380) <= 1, "from 10 to 390 h"
    assert "The range was learned from 5 other runs of this check" in said
    assert "That is the straight line, for comparing; the one drawn bends." in said
    (points,) = re.findall(r'<polyline class="chart-trend" points="([^"]*)"', said)
    places = [tuple(map(float, each.split(","))) for each in points.split(" ")]
    assert len(places) == 25
    across, up = zip(*places, strict=True)
    assert list(across) == sorted(across)
    assert list(up) == sorted(up, reverse=True), "pixels count downwards"
    assert up[12] > (up[0] + up[-1]) / 2 + 10, "halfway along it has risen less than half"


def test_a_straight_path_is_one_piece(farm, machine, check):  # noqa: F811
    measured(machine, check, *STEADY)
    said = page(farm, machine)
    (points,) = re.findall(r'<polyline class="chart-trend" points="([^"]*)"', said)
    assert len(points.split(" ")) == 2
    assert "Faster and faster" not in said
    assert "The range comes from these values alone" in said


def test_what_cannot_be_told_says_what_is_possible_and_why(farm, machine, check):  # noqa: F811
    rows = [(100, "7.00"), (150, "7.01"), (200, "7.01"), (250, "7.06"), (300, "7.03"), (350, "7.09")]
    duty = measured(machine, check, *rows)
    said = page(farm, machine)
    assert "No value is clearly heading for a limit" not in said
    assert "Some values are heading for a limit, but when can't be told yet." in said
    told = re.search(
        r"can't be told</b>: anything from ([\d\u202f]+)&nbsp;h to ([\d\u202f]+)&nbsp;h is possible", said
    )
    early, late = (int(each.replace("\u202f", "")) for each in told.groups())
    assert 350 <= early < late
    assert "6 values leave too much open." in said
    assert re.search(r'<details class="more chapter drift" id="check-\d+" open>', said)
    assert duty.forward_hours is None, "what can't be told moves no mark"


def test_queries_do_not_grow_with_the_kin(farm, machine, check):  # noqa: F811
    measured(machine, check, *BENT)

    def queries():
        with CaptureQueriesContext(connection) as asked:
            page(farm, machine)
        return len(asked)

    with_kin(machine, check, count=1)
    few = queries()
    with_kin(machine, check, count=4)
    assert queries() == few


def test_german_says_it_too(farm, machine, check):  # noqa: F811
    measured(machine, check, *BENT)
    with_kin(machine, check)
    client = farm.client("technician")
    said = client.get(
        reverse("machine-drift", args=[machine.pk]), headers={"accept-language": "de"}
    ).content.decode()
    assert "Immer schneller: Die letzten" in said
    assert "aus 5 anderen Verläufen dieser Prüfung gelernt" in said
