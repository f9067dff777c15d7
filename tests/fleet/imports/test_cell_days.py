"""Days as people write them. Names of months and orders of day and month: common practice, no source."""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from fleet.imports.cell_days import FIRST_DAY, LAST_DAY, Days, NoDay, NoYear, read_moment
from fleet.imports.cell_values import Wrong

MADRID = ZoneInfo("Europe/Madrid")


@pytest.mark.parametrize(
    ("cell", "order", "moment"),
    [
        ("2026-05-03", "dmy", (3, 5, 12, 0)),
        ("2026/5/3", "mdy", (3, 5, 12, 0)),
        ("2026-05-03 14:30", "dmy", (3, 5, 14, 30)),
        ("2026-05-03T14:30:00", "dmy", (3, 5, 14, 30)),
        ("03/05/2026", "dmy", (3, 5, 12, 0)),
        ("03/05/2026", "mdy", (5, 3, 12, 0)),
        ("3.5.26", "dmy", (3, 5, 12, 0)),
        ("3.5.2026 7:05", "dmy", (3, 5, 7, 5)),
        ("5/3/2026 2:30 PM", "mdy", (3, 5, 14, 30)),
        ("5/3/2026, 12:15 am", "mdy", (3, 5, 0, 15)),
        ("3 May 2026", "mdy", (3, 5, 12, 0)),
        ("3-May-26", "dmy", (3, 5, 12, 0)),
        ("May 3, 2026 07:00", "dmy", (3, 5, 7, 0)),
        (date(2026, 5, 3), "mdy", (3, 5, 12, 0)),
        (datetime(2026, 5, 3, 14, 30), "mdy", (3, 5, 14, 30)),  # noqa: DTZ001 - a sheet's cells have no zone
    ],
)
def test_days(cell, order, moment):
    read = read_moment(cell, None, Days(order), MADRID)
    assert (read.year, read.tzinfo) == (2026, MADRID)
    assert (read.day, read.month, read.hour, read.minute) == moment


def test_an_offset_stands_and_the_time_may_have_a_column_of_its_own():
    assert read_moment("2026-05-03T14:30:00+02:00", None, Days(), UTC) == datetime(
        2026, 5, 3, 12, 30, tzinfo=UTC
    )
    for clock in ("7:05", time(7, 5), datetime(1899, 12, 30, 7, 5), 7 / 24 + 5 / 1440):  # noqa: DTZ001
        assert read_moment("2026-05-03", clock, Days(), UTC) == datetime(2026, 5, 3, 7, 5, tzinfo=UTC)


@pytest.mark.parametrize(
    "cell",
    [
        "",
        None,
        "soon",
        "31/02/2026",
        "3 Foo 2026",
        1216,
        1216.5,
        99_999,
        "2026-05-03 25:00",
        "3 Jui 2026",
        "3.5.71",
    ],
)
def test_no_days(cell):
    with pytest.raises(Wrong):
        read_moment(cell, None, Days(), UTC)


def test_a_time_the_clocks_leap_over_is_none():
    with pytest.raises(Wrong, match="went forward over this time"):
        read_moment(
            "2026-03-29 02:30", None, Days(), MADRID
        )  # EU: clocks go forward on the last Sunday of March


@pytest.mark.parametrize(
    "cell",
    [
        "3. Mai 2026",
        "3 mai 2026",
        "3 de mayo de 2026",
        "3 maggio 2026",
        "3 mei 2026",
        "Sonntag, 3. Mai 2026",
        "So 03.05.2026",
        "dimanche 3 mai 2026",
        "3rd May 2026",
        "3. mai. 26",
        46145,
        46145.0,
        "46145",
    ],
)
def test_days_in_six_languages_and_as_a_spreadsheets_number(cell):
    """46145 days after 1899-12-30: ECMA-376, part 1, 18.17.4.1, the 1900 date base."""
    assert read_moment(cell, None, Days(), UTC) == datetime(2026, 5, 3, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("names", "month"),
    [
        ("Jänner Januar janvier enero gennaio januari Jan.", 1),
        ("Feber février febrero febbraio fév. feb", 2),
        ("März Mrz marzo mars maart mrt mar", 3),
        ("avril abril aprile apr avr abr", 4),
        ("juin junio giugno jun giu", 6),
        ("juillet julio luglio juil lug", 7),
        ("août agosto augustus aoû ago", 8),
        ("settembre septiembre set sept", 9),
        ("Oktober octubre ottobre okt ott", 10),
        ("Dezember décembre diciembre dez déc dic", 12),
    ],
)
def test_months_whole_and_cut_short(names, month):
    for name in names.split():
        assert read_moment(f"3 {name} 2026", None, Days(), UTC).month == month, name


def test_a_serial_number_may_hold_a_time():
    assert read_moment(46145.3125, None, Days(), UTC) == datetime(2026, 5, 3, 7, 30, tzinfo=UTC)


def test_a_day_of_the_week_tells_the_order():
    assert read_moment("Mo 01.06.2026", None, Days(), UTC).date() == date(2026, 6, 1)  # a Monday
    with pytest.raises(Wrong):
        read_moment("Mo 01.06.2026", None, Days("mdy"), UTC)  # 6 January 2026 was a Tuesday


@pytest.mark.parametrize(
    "cell", ["3.5.2026 um 7:30 Uhr", "3.5.2026 - 07:30", "3 May 2026 at 7:30", "3/5/2026 à 7h30"]
)
def test_words_around_a_time(cell):
    assert read_moment(cell, None, Days(), UTC) == datetime(2026, 5, 3, 7, 30, tzinfo=UTC)


def test_a_zone_in_iso_8601_stands():
    moment = read_moment("2026-05-04T01:15:00-04:00", None, Days(), MADRID)
    assert moment.astimezone(UTC) == datetime(2026, 5, 4, 5, 15, tzinfo=UTC)


def test_a_year_of_two_figures_may_come_first():
    assert read_moment("26-05-03", None, Days("ymd"), UTC).date() == date(2026, 5, 3)
    with pytest.raises(Wrong):
        read_moment("26-05-03", None, Days("dmy"), UTC)  # 2003: too long ago to be meant


@pytest.mark.parametrize("cell", ["5 Jan", "Jan 5", "5. Jan.", "05.01.", "5/1"])
def test_a_missing_year_is_asked(cell):
    with pytest.raises(NoYear, match="names no year"):
        read_moment(cell, None, Days(), UTC)
    assert read_moment(cell, None, Days(year=2026), UTC).date() == date(2026, 1, 5)


@pytest.mark.parametrize(
    ("cell", "first", "last"),
    [
        ("Feb 2026", date(2026, 2, 1), date(2026, 2, 28)),
        ("02/2026", date(2026, 2, 1), date(2026, 2, 28)),
        ("2025", date(2025, 1, 1), date(2025, 12, 31)),
        (2025, date(2025, 1, 1), date(2025, 12, 31)),
    ],
)
def test_a_missing_day_is_asked(cell, first, last):
    with pytest.raises(NoDay, match="names no day"):
        read_moment(cell, None, Days(), UTC)
    assert read_moment(cell, None, Days(within=FIRST_DAY), UTC).date() == first
    assert read_moment(cell, None, Days(within=LAST_DAY), UTC).date() == last


def test_in_a_file_of_two_orders_each_day_is_read_as_it_can_be():
    mixed = Days("dmy", mixed=True)
    assert read_moment("05/20/2026", None, mixed, UTC).date() == date(2026, 5, 20)
    assert read_moment("06/03/2026", None, mixed, UTC).date() == date(2026, 3, 6)
    with pytest.raises(Wrong):
        read_moment("05/20/2026", None, Days("dmy"), UTC)
