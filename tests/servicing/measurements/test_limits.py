"""Limits are judged exactly, in either system of units."""

from decimal import Decimal
from fractions import Fraction

import pytest

from servicing.measurements import limits
from servicing.models import Check


def D(text):
    return Decimal(text)


# NIST SP 811 (2008), appendix B: factors marked exact there, and psi to its printed digits.
@pytest.mark.parametrize(
    ("unit", "other", "factor"),
    [
        ("in", "mm", "25.4"),
        ("lbf·ft", "N·m", "1.3558179483314004"),
        ("gal", "L", "3.785411784"),
        ("qt", "L", "0.946352946"),
        ("bar", "kPa", "100"),
        ("lb", "kg", "0.45359237"),
    ],
)
def test_exact_factors_are_exact(unit, other, factor):
    assert limits.comparable(D(1), unit, other) == Fraction(factor)


def test_rounded_factors_agree_to_their_printed_digits():
    assert float(limits.comparable(D(1), "psi", "kPa")) == pytest.approx(6.894757293168361, rel=1e-15)
    assert float(limits.comparable(D(1), "lbf·in", "N·m")) == pytest.approx(0.1129848290276167, rel=1e-15)


@pytest.mark.parametrize(
    ("value", "unit", "upper", "limit_unit", "passes"),
    [
        ("0.3", "in", "7.62", "mm", True),  # 0.3 in is 7.62 mm to the last digit
        ("0.300001", "in", "7.62", "mm", False),
        ("7.62", "mm", "0.3", "in", True),
        ("7.620001", "mm", "0.3", "in", False),
        ("7.6", "mm", "0.3", "in", True),
        ("7.62", "mm", "7.62", "mm", True),
        ("7.620001", "mm", "7.62", "mm", False),
        ("30", "psi", "206.842718", "kPa", False),  # 206.8427187...
        ("30", "psi", "206.842719", "kPa", True),
    ],
)
def test_upper_limit_is_inclusive_and_one_last_digit_beyond_fails(value, unit, upper, limit_unit, passes):
    assert limits.within(D(value), unit, lower=None, upper=D(upper), limit_unit=limit_unit) is passes


@pytest.mark.parametrize(
    ("value", "unit", "lower", "passes"),
    [
        ("90", "lbf·ft", "122.023615", True),  # 90 lbf·ft is 122.0236153498...  N·m
        ("90", "lbf·ft", "122.023616", False),
        ("122.023616", "N·m", "122.023616", True),
        ("122.023615", "N·m", "122.023616", False),
    ],
)
def test_lower_limit_is_inclusive_and_one_last_digit_short_fails(value, unit, lower, passes):
    assert limits.within(D(value), unit, lower=D(lower), upper=None, limit_unit="N·m") is passes


def test_temperatures_have_an_offset():
    assert limits.comparable(D(212), "°F", "°C") == 100
    assert limits.within(D("194"), "degF", lower=D(80), upper=D(90), limit_unit="degC")
    assert not limits.within(D("194.000001"), "degF", lower=D(80), upper=D(90), limit_unit="degC")


def test_unit_of_another_kind_is_refused_with_the_units_that_fit():
    with pytest.raises(limits.UnknownUnit, match=r"in mm; enter the value in mm, in"):
        limits.within(D(1), "kPa", lower=None, upper=D(1), limit_unit="mm")


def test_unit_nobody_knows_stands_for_itself_only():
    assert limits.units_for("clicks") == ["clicks"]
    assert limits.within(D(4), "clicks", lower=D(3), upper=D(5), limit_unit="clicks")


@pytest.mark.parametrize(
    ("typed", "value"),
    [("7.5", "7.5"), (" 7,5 ", "7.5"), ("-0.10", "-0.10"), ("1 204.5", "1204.5"), ("0,1234", "0.1234")],
)
def test_numbers_are_read_with_every_digit(typed, value):
    assert str(limits.number(typed)) == value


@pytest.mark.parametrize(
    "typed", ["", "abc", "1,204", "1,2.3", "NaN", "Infinity", "1e400", "0.1234567", "123456789"]
)
def test_what_is_no_clear_number_is_refused(typed):
    with pytest.raises(limits.NotANumber):
        limits.number(typed)


def test_limits_are_said_as_a_person_reads_them():
    assert limits.said(D("7.000000"), D("9.000000"), "mm") == "7 to 9 mm"
    assert limits.said(None, D("9.5"), "mm") == "at most 9.5 mm"
    assert limits.said(D("80"), D("100"), "Nm", D("90")) == "80 to 100 N·m, aim for 90"
    assert limits.about(D(9), "mm", "in") == "about 0.354 in"
    assert limits.about(D(90), "lbf·ft", "N·m") == "about 122 N·m"


def test_limits_are_said_roughly_in_the_units_people_think_in():
    assert limits.in_system(D(7), D(9), "mm", "us") == "about 0.276 to 0.354 in"
    assert limits.in_system(None, D(90), "lbf·ft", "metric") == "about 122 N·m"
    assert limits.in_system(D(7), D(9), "mm", "metric") == ""
    assert limits.in_system(D(12), None, "V", "us") == ""


@pytest.mark.parametrize(
    ("choices", "typed", "passes"),
    [
        ([("dry", True), ("dripping", False)], "dry", True),
        ([("dry", True), ("dripping", False)], "dripping", False),
        ([], "passes", True),
        ([], "fails", False),
    ],
)
def test_words_pass_or_fail(choices, typed, passes):
    named = [{"value": word, "meaning": "", "passes": good} for word, good in choices]
    check = Check(kind="sight", choices=named)
    assert limits.Rule.of(check).read(typed).passes is passes
    with pytest.raises(limits.UnknownWord, match="Choose one of: "):
        limits.Rule.of(check).read("moist")
