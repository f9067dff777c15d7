"""A number: read whole, or refused, never read as another one."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.core.number_reader import NotANumber, TwoWays, read_marked, read_plain, read_typed, read_whole
from fleet.usage.figures import Writing, grouped, marked, written
from servicing.planning.table_headings import read_heading

# every figure and mark that any way of writing gives a meaning to, and some that none does
ANYTHING = st.text(st.sampled_from("0123456789.,+-−'’ \u202f\u00a0eE_١h"), max_size=16)


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
    assert str(read_typed(typed)) == value


@pytest.mark.parametrize("typed", ["1,120", "1,120.5", "1.120,5", "1,120,500", "-1,120", "11,20,5"])
def test_what_can_be_read_in_two_ways_is_refused(typed):
    with pytest.raises(TwoWays, match="can be read in two ways"):
        read_typed(typed)


@pytest.mark.parametrize("typed", ["1.120", "1.120,5", "1,120.5", "1.120.500", "-1.120", "11.20.5"])
def test_who_writes_a_comma_is_asked_about_points(typed):
    with written(Writing(decimal_mark=",")), pytest.raises(TwoWays, match="without points"):
        read_typed(typed)


@pytest.mark.parametrize(
    ("typed", "value"), [("1,120", "1.120"), ("0,125", "0.125"), ("1120.5", "1120.5"), ("1 120,5", "1120.5")]
)
def test_who_writes_a_comma_is_read_so(typed, value):
    with written(Writing(decimal_mark=",")):
        assert read_typed(typed) == Decimal(value)


@given(ANYTHING)
def test_who_writes_a_comma_is_read_as_in_a_mirror(text):
    def read(text, mark):
        try:
            with written(Writing(decimal_mark=mark)):
                return read_typed(text)
        except NotANumber as error:
            return type(error)

    assert read(text, ".") == read(text.translate(str.maketrans(".,", ",.")), ",")


@given(st.decimals(-999_999, 999_999, places=3), st.sampled_from(".,"))
def test_a_figure_we_wrote_is_read_as_it_was_meant(value, mark):
    with written(Writing(decimal_mark=mark)):
        assert read_typed(grouped(value, 3)) == value
        assert read_typed(marked(f"{value:f}")) == value


@pytest.mark.parametrize(
    "typed", ["", " ", "abc", "1120h", "1e3", "1_000", "١٢", "NaN", "Infinity", "1.2.3", ".", "--3", "1" * 41]
)
def test_what_is_no_number_is_refused(typed):
    with pytest.raises(NotANumber, match="is not a number"):
        read_typed(typed)


def test_a_long_text_is_not_given_back_whole():
    with pytest.raises(NotANumber) as refused:
        read_typed("x" * 5000)
    assert len(refused.value.sentence) < 120


@pytest.mark.parametrize("typed", ["7.123", "7,1234567"])
def test_reading_keeps_digits_and_leaves_their_number_to_the_field(typed):
    assert read_typed(typed) == Decimal(typed.replace(",", "."))


@pytest.mark.parametrize("text", ["1" * 13, "1." + "1" * 13])
def test_a_plain_number_has_at_most_twelve_figures_on_either_side(text):
    assert read_plain(text) is None


@pytest.mark.parametrize("text", ["0", "1204", "1204.5", "-3", "+7.25", "1" * 12 + "." + "1" * 12])
def test_a_plain_number_is_read_as_it_stands(text):
    assert read_plain(text) == Decimal(text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        " 5",
        "5 ",
        "5\n",
        ".5",
        "5.",
        "1,5",
        "1,204",
        "1 204",
        "1e3",
        "1_000",
        "NaN",
        "١٢",
        "−3",
        "--3",
        "+-3",
    ],
)
def test_anything_else_is_not_a_plain_number(text):
    assert read_plain(text) is None


@pytest.mark.parametrize(
    "text", ["", "12,04", "1,2,3", "1.204.5", "1204.", ".5", ",204", "1234,567", "1,2345", "1e5", "−3", "--3"]
)
def test_a_mark_out_of_its_place_is_refused(text):
    assert read_marked(text, ".") is None
    assert read_marked(text.translate(str.maketrans(".,", ",.")), ",") is None


@given(ANYTHING, st.sampled_from(".,"))
def test_no_two_ways_of_reading_differ_where_both_read(text, mark):
    """A person's comma before three figures, which alone could mean two things, is never read as either."""
    plain, marked = read_plain(text), read_marked(text, mark)
    try:
        typed = read_typed(text)
    except NotANumber:
        typed = None
    if mark == ".":
        assert plain is None or marked == plain
    assert typed is None or plain is None or typed == plain
    assert typed is None or marked is None or typed == marked or (mark == "," and "." in text)


@given(ANYTHING)
def test_the_two_marks_mirror_each_other(text):
    assert read_marked(text, ".") == read_marked(text.translate(str.maketrans(".,", ",.")), ",")


@pytest.mark.parametrize(
    ("text", "number"),
    [("0", 0), ("007", 7), ("9" * 18, 10**18 - 1), ("9" * 19, None), ("9" * 5000, None)],
)
def test_the_number_of_a_row(text, number):
    assert read_whole(text) == number


@pytest.mark.parametrize("text", ["", " 1", "1 ", "1\n", "+1", "-1", "1.0", "1e3", "1_0", "²", "١", "x"])
def test_what_is_no_number_of_a_row(text):
    assert read_whole(text) is None


@pytest.mark.parametrize(
    "number", ["5", "50", "1000", "1,000", "1 000", "1\u202f000", "12,500", "1,000.5", "2.25"]
)
def test_the_heading_of_a_makers_table_counts_alike(number):
    """servicing.planning knows nothing of fleet, so it reads its headings itself."""
    assert read_heading(f"{number} h").hours == read_marked(number, ".")
