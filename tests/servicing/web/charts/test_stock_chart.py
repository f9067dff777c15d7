"""How long a part's stock lasts, on the list and on its own page."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal as D

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from servicing.ledger.outlook import Coming
from servicing.ledger.stock_course import Use, course
from servicing.web.charts.stock_chart import BOTTOM, TOP, amount, cover, in_words, stock_chart
from tests.factories import DutyFactory, PartFactory, StockFactory

TODAY = date(2026, 3, 2)
pytestmark = pytest.mark.time_machine(datetime(2026, 3, 2, 9, 0, tzinfo=UTC), tick=False)


def on(day, size=1.0, **more):
    return Use(Coming(day, day, day, **more), size)


def told(free, *uses):
    return cover(course(free, uses, 90), unit="pc", today=TODAY)


def drawn(free, *uses, reorder=0.0):
    return stock_chart(course(free, uses, 90), unit="pc", reorder_point=reorder, today=TODAY)


def places(chart):
    return [tuple(map(float, point.split(","))) for point in chart.steps.split(" ")]


@pytest.mark.parametrize(
    ("free", "uses", "words", "width", "ends"),
    [
        (2, [on(9), on(45)], "runs out about 16\xa0Apr", 50, True),
        (2, [on(9), on(12)], "runs out about Sat\xa014\xa0Mar", 13.33, True),
        (9, [on(9)], "lasts more than 90 days", 100, False),
        (9, [], "no use likely in 90 days", None, False),
        (0, [], "none free; no use likely in 90 days", None, False),
        (0, [on(9)], "none free, needed about Wed\xa011\xa0Mar", 0, True),
        (-2.5, [on(9)], "2.5\xa0pc short for open orders", 0, False),
    ],
)
def test_how_long_it_lasts_is_said_and_drawn_as_a_bar(free, uses, words, width, ends):
    made = told(free, *uses)
    assert (made.words, made.width, made.ends, made.short) == (words, width, ends, free < 0)


def test_the_reorder_point_and_what_is_short_are_said():
    def said(free, reorder, *uses):
        return in_words(course(free, uses, 90), unit="pc", reorder_point=reorder, today=TODAY)

    assert said(3, 1, on(30), on(45)) == "At the reorder point of 1\xa0pc about 16\xa0Apr."
    assert said(1, 1, on(30)) == "At or below the reorder point of 1\xa0pc."
    assert said(1, 0, on(30, gap=20)) == "About 3\xa0pc short by 31\xa0May."
    assert said(9, 0, on(30)) == said(9, 2) == said(-1, 1) == ""


def test_the_stock_steps_down_to_where_it_is_used_up():
    made = drawn(2, on(9), on(45), reorder=1.0)
    levels = [y for _, y in places(made)]
    assert levels == sorted(levels), "downwards on the page"
    assert [x for x, _ in places(made)] == [0, 10, 10, 50, 50, 100]
    assert (made.used_up.at, levels[-1]) == (50, made.none_y)
    assert made.none_y < made.frame.bottom + 1
    assert made.reorder.label == "Reorder at 1\xa0pc"
    assert levels[0] < made.reorder.at < made.none_y
    assert made.used_up.label == "runs out about 16\xa0Apr"
    assert [(week.first, week.used, week.left) for week in made.weeks] == [
        (date(2026, 3, 9), "1\xa0pc", "1\xa0pc"),
        (date(2026, 4, 13), "1\xa0pc", "0\xa0pc"),
    ]


def test_a_stock_without_likely_use_is_not_drawn():
    assert drawn(5) is None


def test_a_stock_that_is_short_from_the_first_day_runs_down_from_there():
    made = drawn(-1, on(20))
    assert made.used_up is None
    assert min(y for _, y in places(made)) > made.none_y
    assert {tick.label for tick in made.frame.up} >= {"0.0", "\u22121.0", "\u22122.0"}


@given(
    st.floats(-50, 5000),
    st.lists(st.tuples(st.integers(0, 120), st.floats(0.01, 900)), min_size=1, max_size=6),
    st.floats(0, 300),
)
def test_all_of_it_lies_in_the_frame(free, uses, reorder):
    made = drawn(free, *(on(day, size, gap=25) for day, size in uses), reorder=reorder)
    if made is None:
        return
    assert all(0 <= x <= 100 and TOP <= y <= BOTTOM for x, y in places(made))
    assert TOP <= made.none_y <= BOTTOM
    assert made.reorder is None or TOP <= made.reorder.at <= BOTTOM
    assert len(made.frame.up) <= 6


@pytest.mark.parametrize(
    ("value", "words"), [(3.0, "3"), (3.04, "3"), (2.5, "2.5"), (-0.2, "\u22120.2"), (12_000, "12\u202f000")]
)
def test_amounts_are_whole_where_they_are(value, words):
    assert amount(value, "L") == f"{words}\xa0L"


@pytest.fixture
def part(farm):
    """Two lie in the yard, to be reordered at one; three are asked for in five days."""
    made = PartFactory(organisation=farm.organisation, number="HX-1101", name="Oil filter")
    StockFactory(part=made, yard=farm.yard, quantity=D(2), reorder_point=D(1))
    soon = TODAY + timedelta(days=5)
    duty = DutyFactory(machine=farm.machine(), mark_hours=D(9000), early=soon, likely=soon, late=soon)
    seal = PartFactory(organisation=farm.organisation, number="HX-1", name="Seal", in_stock=50)
    with farm.scope():
        for each, quantity in ((seal, 40), (made, 3)):
            duty.task.supplies.create(organisation=farm.organisation, part=each, quantity=D(quantity))
    return made


def test_the_list_says_the_cover_of_each_part(farm, part):
    PartFactory(organisation=farm.organisation, number="HX-1102", name="Long filter", in_stock=9)
    page = farm.client("technician").get(reverse("parts")).content.decode()
    cells = [each.partition("</td>")[0] for each in page.split('<td class="lasts">')[1:]]
    assert [cell.partition('class="cover">')[2].partition("<")[0] for cell in cells] == [
        "No use likely in 90 days",
        "Runs out about Sat\xa07\xa0Mar",
        "Lasts more than 90 days",
    ]
    assert ["<svg" in cell for cell in cells] == [False, True, True]


def test_the_page_of_a_part_draws_its_stock_with_the_same_in_words(farm, part):
    page = farm.client("technician").get(reverse("part", args=[part.pk])).content.decode()
    section = page.partition("How long it lasts</h2>")[2].partition("<h2>")[0]
    assert (
        "<b>Runs out about Sat\xa07\xa0Mar.</b> At the reorder point of 1\xa0pc about Sat\xa07\xa0Mar."
        in section
    )
    assert "About 1\xa0pc short by 31\xa0May." in section
    assert 'class="chart-steps"' in section
    assert ">\u22121\xa0pc</td>" in section
    other = PartFactory(organisation=farm.organisation, number="HX-2", name="Cap", in_stock=1)
    page = farm.client("technician").get(reverse("part", args=[other.pk])).content.decode()
    assert "No use likely in 90 days." in page
    assert "chart-steps" not in page
