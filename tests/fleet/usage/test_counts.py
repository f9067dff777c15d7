"""How many there are, in the reader's way of writing."""

from fleet.usage.counts import how_many
from fleet.usage.figures import COMMA, Writing, written


def test_thousands_are_parted_by_what_is_no_decimal_mark():
    assert how_many(400_000) == "400,000"
    with written(Writing(COMMA)):
        assert how_many(400_000) == "400\u202f000"
