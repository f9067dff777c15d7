"""How a stock goes down. Own numbers, worked by hand, and the exact law of `demand` beside them."""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicing.ledger.demand import Need, chances, wanted
from servicing.ledger.outlook import Coming, chance_by, chances_by
from servicing.ledger.stock_course import Step, Use, course


def on(day, *, gap=None):
    """Something that falls due on a day for sure."""
    return Coming(day, day, day, gap=gap)


@given(
    st.lists(st.one_of(st.none(), st.integers(-5, 400)), min_size=3, max_size=3),
    st.booleans(),
    st.lists(st.floats(-10, 200), min_size=1, max_size=20),
)
def test_chances_of_many_days_are_those_of_each(quantiles, overdue, days):
    early, likely, late = sorted(quantiles, key=lambda each: 9999 if each is None else each)
    duty = Coming(early, likely, late, overdue=overdue)
    one_by_one = [chance_by(day, duty) for day in days]
    assert chances_by(np.array(days), duty).tolist() == pytest.approx(one_by_one)


def test_each_use_is_a_step_down_on_its_day():
    made = course(3, [Use(on(10), 1), Use(on(40), 1)], 90)
    assert made.steps == (Step(10, 2), Step(40, 1))
    assert (made.used_up, made.left) == (None, 1)


def test_it_is_used_up_by_the_use_that_takes_the_last_and_then_short():
    made = course(2, [Use(on(10, gap=20), 1)], 90)
    assert [step.day for step in made.steps] == [10, 30, 50, 70, 90]
    assert (made.used_up, made.left) == (30, -3)


def test_a_use_is_likely_once_it_is_as_likely_as_not():
    made = course(1, [Use(Coming(20, 30, 60), 1)], 90)
    assert made.used_up == 30
    assert course(1, [Use(Coming(80, 95, 120), 1)], 90).steps == ()


def test_what_an_order_has_reserved_is_not_used_twice_but_its_repeats_are():
    made = course(5, [Use(on(10, gap=30), 2, ordered=True)], 90)
    assert made.steps == (Step(40, 3), Step(70, 1))


def test_a_use_greater_than_the_stock_ends_it():
    made = course(1, [Use(on(15), 4)], 90)
    assert (made.used_up, made.left) == (15, -3)


@pytest.mark.parametrize("free", [0, -2])
def test_where_nothing_is_free_it_is_used_up_today(free):
    assert course(free, [Use(on(15), 1)], 90).used_up == 0
    assert course(free, [], 90).used_up == 0


def test_without_any_use_it_stays():
    made = course(4, [], 90)
    assert (made.steps, made.used_up, made.left, made.falls_to(1)) == ((), None, 4, None)


def test_the_day_it_falls_to_the_reorder_point():
    made = course(4, [Use(on(10, gap=10), 1)], 90)
    assert (made.falls_to(5), made.falls_to(4), made.falls_to(2), made.falls_to(0)) == (0, 0, 20, 40)


@given(
    st.lists(
        st.tuples(st.lists(st.integers(0, 150), min_size=3, max_size=3).map(sorted), st.integers(15, 80)),
        min_size=1,
        max_size=8,
    ),
    st.integers(1, 4),
    st.integers(5, 90),
)
def test_the_steps_by_a_day_are_within_one_of_the_median_of_the_exact_law(duties, amount, by):
    """Jogdeo and Samuels: the median of a Poisson binomial lies within one of its mean."""
    comings = [Coming(*quantiles, gap=gap) for quantiles, gap in duties]
    made = course(100, [Use(coming, amount) for coming in comings], 90)
    median = wanted(
        (Need(chance, Decimal(amount)) for coming in comings for chance in chances(coming, by)), sure=0.5
    ).enough
    taken = sum(step.day <= by for step in made.steps)
    assert abs(taken - median / amount) <= 1
