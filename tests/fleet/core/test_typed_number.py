"""A number that a person typed: read whole, or refused in words, never read as another one."""

from decimal import Decimal

import pytest

from fleet.core.typed_number import NotANumber, TwoWays, read_number


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("1120,5", "1120.5"),
        ("1120.5", "1120.5"),
        ("1 120.5", "1120.5"),
        ("1\u202f120,5", "1120.5"),
        ("1\u00a0120", "1120"),
        (" 7,50 ", "7.50"),
        ("1120,5678", "1120.5678"),
        ("−3", "-3"),
        ("+7", "7"),
        (",5", "0.5"),
        ("7,", "7"),
        ("1" * 40, "1" * 40),
    ],
)
def test_what_people_write_is_read_with_every_digit(typed, value):
    assert str(read_number(typed)) == value


@pytest.mark.parametrize("typed", ["1,120", "1,120.5", "1.120,5", "1,120,500", "-1,120", "11,20,5"])
def test_what_can_be_read_in_two_ways_is_refused(typed):
    with pytest.raises(TwoWays, match="can be read in two ways"):
        read_number(typed)


@pytest.mark.parametrize(
    "typed", ["", " ", "abc", "1120h", "1e3", "1_000", "١٢", "NaN", "Infinity", "1.2.3", ".", "--3", "1" * 41]
)
def test_what_is_no_number_is_refused(typed):
    with pytest.raises(NotANumber, match="is not a number"):
        read_number(typed)


def test_a_long_text_is_not_given_back_whole():
    with pytest.raises(NotANumber) as refused:
        read_number("x" * 5000)
    assert len(refused.value.sentence) < 120


@pytest.mark.parametrize("typed", ["7.123", "7,1234567"])
def test_reading_keeps_digits_and_leaves_their_number_to_the_field(typed):
    assert read_number(typed) == Decimal(typed.replace(",", "."))
