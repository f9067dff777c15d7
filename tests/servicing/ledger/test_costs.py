"""Repair cost against a published table; sums and rounding by hand."""

from decimal import Decimal as D

import pytest

from servicing.ledger import costs
from servicing.ledger.rounding import half_up

# Iowa State University Extension PM 710 / A3-29, Table 3 (its source: ASAE 1996): accumulated repair costs
# as a share of list price, rounded half up to 0.01.
BY_THOUSAND = range(1000, 10001, 1000)
BY_TWO_HUNDRED = range(200, 2001, 200)
TABLE_3 = {
    "tractor-2wd": (BY_THOUSAND, ".01 .03 .06 .11 .18 .25 .34 .45 .57 .70"),
    "tractor-4wd": (BY_THOUSAND, ".00 .01 .03 .05 .08 .11 .15 .19 .24 .30"),
    "moldboard-plow": (BY_TWO_HUNDRED, ".02 .06 .12 .19 .29 .40 .53 .68 .84 1.01"),
    "disk": (BY_TWO_HUNDRED, ".01 .04 .08 .12 .18 .25 .32 .40 .49 .58"),
    "chisel-plow": (range(200, 1801, 200), ".03 .08 .14 .20 .28 .36 .45 .54 .64"),
}


@pytest.mark.parametrize("machine", TABLE_3)
def test_accumulated_repair_rounds_to_every_cell_of_the_published_table(machine):
    hours, cells = TABLE_3[machine]
    factors = costs.REPAIR_FACTORS[machine]
    ours = [half_up(costs.accumulated_repair(D(1), D(h), factors.rf1, factors.rf2)) for h in hours]
    assert ours == [D(cell) for cell in cells.split()]
    assert factors.checked


def test_half_way_goes_up_as_the_table_prints_it():
    """2WD at 5000 h is exactly 0.175; the table prints .18, banker's rounding would agree, .165 tells."""
    assert costs.accumulated_repair(D(1), D(5000), D("0.007"), D(2)) == D("0.175")
    assert half_up(D("0.175")) == D("0.18")
    assert half_up(D("0.165")) == D("0.17")


def test_repairs_of_the_published_example():
    """A3-29, worked example: tractor of list price 150000; 25 % at 6000 h by the table, 37800 by formula."""
    factors = costs.REPAIR_FACTORS["tractor-2wd"]
    assert costs.expected_between(D(150000), D(0), D(6000), factors) == D("37800.00")
    assert costs.expected_between(D(150000), D(5600), D(6000), factors) == D("4872.00")  # recomputed


def test_only_factors_that_reproduce_the_table_are_called_checked():
    assert {name for name, factors in costs.REPAIR_FACTORS.items() if factors.checked} == set(TABLE_3)


def test_hours_that_cannot_be():
    assert costs.accumulated_repair(D(1), D(0), D("0.28"), D("1.4")) == 0
    with pytest.raises(ValueError, match="negative"):
        costs.accumulated_repair(D(1), D(-1), D("0.28"), D("1.4"))


def test_cost_is_rounded_once_at_the_end():
    spent = costs.cost([(D("2.5"), D("12.50")), (D(1), D("0.005"))], [(20, D("40")), (10, D("40"))])
    assert spent.parts == D("31.26")  # 31.255
    assert spent.labour == D("20.00")  # 13.333… + 6.666…, not 13.33 + 6.67 each rounded
    assert spent.total == D("51.26")
    assert spent.per_hour(D("40.0")) == D("1.28")


def test_what_was_never_entered_is_counted():
    found = costs.cost([(D(2), D(0)), (D(1), D(3))], [(30, D(0)), (20, D(0)), (60, D(12))], untimed=4)
    assert (found.unpriced, found.unrated, found.untimed, found.lacks) == (1, 2, 4, 7)
    assert (found.parts, found.labour, found.total) == (D(3), D(12), D(15))
    assert costs.add([found, found]).lacks == 14


def test_nothing_used_costs_nothing_and_lacks_nothing():
    assert (costs.cost([], []).total, costs.cost([], []).lacks) == (D("0.00"), 0)


@pytest.mark.parametrize("hours", [None, D("0.0")])
def test_no_hours_give_no_cost_per_hour(hours):
    assert costs.cost([], [(60, D(40))]).per_hour(hours) is None


def test_totals_add_what_is_printed():
    parts = [costs.Cost(D("0.01"), D("10.00")), costs.Cost(D("0.02"), D("5.50"))]
    assert costs.add(parts) == costs.Cost(D("0.03"), D("15.50"))
    assert costs.add([]) == costs.Cost()
