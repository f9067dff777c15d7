"""A cell is read as a person writes it, or refused in words."""

from datetime import date
from decimal import Decimal

import pytest
from django.utils import translation

from fleet.core.errors import FleetError
from servicing.last_done.typed import Said, read_cell
from tests.servicing.duties.program_machines import NOW

pytestmark = pytest.mark.time_machine(NOW, tick=False)
OCTOBER = date(2025, 10, 12)


@pytest.mark.parametrize(
    ("text", "hours", "on"),
    [
        ("3190", "3190", None),
        (" 3190.5 h ", "3190.5", None),
        ("3190,5h", "3190.5", None),
        ("3 190 h", "3190", None),
        ("12.10.2025", None, OCTOBER),
        ("2025-10-12", None, OCTOBER),
        ("12 Oct 2025", None, OCTOBER),
        ("12. Oktober 2025", None, OCTOBER),
        ("le 12 octobre 2025", None, OCTOBER),
        ("3190 h 12.10.2025", "3190", OCTOBER),
        ("3190 h am 12.10.2025", "3190", OCTOBER),
        ("12.10.2025 at 3190 h", "3190", OCTOBER),
        ("3190; 2025-10-12", "3190", OCTOBER),
        ("3190 @ 12 Oct 2025", "3190", OCTOBER),
        ("3190 12.10.25", "3190", OCTOBER),
        ("Oct 2025", None, date(2025, 10, 1)),
        ("10.2025", None, date(2025, 10, 1)),
        ("3190 h 2025", "3190", date(2025, 1, 1)),
        ("13/10/2025", None, date(2025, 10, 13)),
        ("10/13/2025", None, date(2025, 10, 13)),
        ("10/10/2025", None, date(2025, 10, 10)),
        ("2019 h", "2019", None),
        ("0", "0", None),
    ],
)
def test_hours_a_day_or_both(text, hours, on):
    assert read_cell(text) == Said(hours and Decimal(hours), on)


@pytest.mark.parametrize("text", ["?", "unknown", "Unbekannt", "inconnu", " NOT KNOWN ", "onbekend", "??"])
def test_nobody_knows(text):
    assert read_cell(text) == Said(unknown=True)


@pytest.mark.parametrize("text", ["", "   ", "\n"])
def test_nothing_is_said(text):
    assert read_cell(text) is None


def test_the_order_of_days_is_the_organisations():
    assert read_cell("3/5/2025", "dmy") == Said(on=date(2025, 5, 3))
    assert read_cell("3/5/2025", "mdy") == Said(on=date(2025, 3, 5))


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("3/5/2025", "“3/5/2025” can be two days: write it like 2026-05-03."),
        ("3190 3/5/2025", "“3/5/2025” can be two days: write it like 2026-05-03."),
        ("2019", "“2019” can be hours or a year: write 2019 h, or a day like 2026-05-03."),
        (
            "12.10",
            "“12.10” can be hours or a day without its year: write 12.10 h, or a day like 2026-05-03.",
        ),
        (
            "3,190",
            "“3,190” can be read in two ways: write it without commas between thousands, like 1204.5.",
        ),
    ],
)
def test_what_can_be_read_in_two_ways_is_asked(text, sentence):
    with pytest.raises(FleetError) as refused:
        read_cell(text)
    assert refused.value.sentence == sentence


@pytest.mark.parametrize(
    "text",
    [
        *("abc", "-5", "1e5", "99999999", "1204.555", "31.2.2025", "12.13.2025", "12 Okt", "3190 4000", "-"),
        *("x" * 61, "\0", "٣", "1/2/3/4", "NaN", "3190 h ?"),
    ],
)
def test_what_cannot_be_read_says_how_to_write_it(text):
    with pytest.raises(FleetError, match=r"can't be read. Write hours, a day or both"):
        read_cell(text)


def test_who_writes_a_comma_is_understood_and_asked_about_a_point():
    with translation.override("de"):
        assert read_cell("3190,5 h") == Said(Decimal("3190.5"))
        with pytest.raises(FleetError):
            read_cell("3.190 h")
