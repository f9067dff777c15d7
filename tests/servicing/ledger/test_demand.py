"""Quantities likely to be asked for, against the binomial law and brute force."""

from decimal import Decimal as D
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from servicing.ledger.demand import Need, Shortage, chances, cover, to_buy, wanted
from servicing.ledger.outlook import Coming, expected_jobs


@pytest.mark.parametrize(("n", "p"), [(1, 0.05), (10, 0.3), (40, 0.5), (200, 0.9)])
def test_equal_needs_follow_the_binomial_law(n, p):
    found = wanted([Need(p, D("0.5"))] * n)
    assert found.exact
    assert float(found.expected) == pytest.approx(n * p * 0.5, abs=0.005)
    assert float(found.enough) == stats.binom.ppf(0.9, n, p) * 0.5


needs = st.lists(
    st.builds(Need, st.floats(0, 1), st.integers(1, 900).map(lambda n: D(n) / 100)), min_size=1, max_size=7
)


@settings(max_examples=60, deadline=None)
@given(needs)
def test_the_law_is_that_of_all_outcomes_counted_one_by_one(asked):
    outcomes = []
    for falls_due in product([True, False], repeat=len(asked)):
        chance, total = 1.0, D(0)
        for need, due in zip(asked, falls_due, strict=True):
            chance *= need.chance if due else 1 - need.chance
            total += need.amount if due else 0
        outcomes.append((total, chance))
    found = wanted(asked)
    within = sum(chance for total, chance in outcomes if total <= found.enough)
    below = sum(chance for total, chance in outcomes if total < found.enough)
    assert within >= 0.9 - 1e-9
    assert below < 0.9 + 1e-9
    assert float(found.expected) == pytest.approx(sum(float(t) * c for t, c in outcomes), abs=0.006)


def test_beyond_the_exact_size_the_normal_law_is_close_and_said():
    exact = wanted([Need(0.4, D("3"))] * 400)
    rough = wanted([Need(0.4, D("3"))] * 400 + [Need(1e-9, D("0.01"))] + [Need(1e-9, D("300"))])
    assert exact.exact
    assert not rough.exact
    assert abs(float(rough.enough) - float(exact.enough)) <= 3


@pytest.mark.parametrize(("chance", "enough"), [(0.1, 0), (0.1001, 3)])
def test_what_is_enough_in_nine_cases_of_ten_just_so_is_enough(chance, enough):
    assert wanted([Need(chance, D(3))]).enough == enough


def test_up_to_twenty_thousand_steps_are_counted_out():
    assert wanted([Need(0.5, D("0.01")), Need(0.5, D("199.99"))]).exact
    assert not wanted([Need(0.5, D("0.01")), Need(0.5, D("200"))]).exact


def test_nothing_asked_is_nothing_wanted():
    assert wanted([]) == wanted([Need(0.0, D(3))])
    assert wanted([]).enough == 0


def test_what_is_sure_is_wanted_whole():
    found = wanted([Need(1.0, D("4.5")), Need(1.0, D("0.3"))])
    assert (found.expected, found.enough) == (D("4.80"), D("4.80"))


def test_repeats_add_up_to_the_expected_jobs_of_the_outlook():
    duty = Coming(early=2, likely=6, late=12, gap=20)
    assert sum(chances(duty, 90)) == pytest.approx(expected_jobs(duty, 90))
    assert len(chances(duty, 90)) == 5
    assert chances(Coming(early=2, likely=6, late=12), 90) == [1.0]


@pytest.mark.parametrize(
    ("likely", "stock", "reserved", "whole", "bought"),
    [
        ("3", "5", "0", True, "0"),
        ("3", "5", "4", True, "2"),
        ("2.30", "0", "0", True, "3"),
        ("2.30", "0", "0", False, "2.30"),
        ("0", "-2", "0", True, "2"),
    ],
)
def test_what_to_buy(likely, stock, reserved, whole, bought):
    assert to_buy(D(likely), D(stock), D(reserved), whole=whole) == D(bought)


def test_an_equivalent_stands_in_once():
    found = cover(missing={1: D(3), 2: D(2)}, free={3: D(4), 4: D(-1)}, equivalents={1: [4, 3], 2: [3]})
    assert found[1] == Shortage(D(3), {3: D(3)})
    assert (found[2].covered, found[2].left) == (1, 1)
