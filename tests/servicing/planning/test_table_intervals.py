"""Intervals in words, in six languages: what is read, and what is asked.

How the trade writes them is common practice; no source.
"""

from decimal import Decimal

import pytest

from servicing.planning.table_doubts import why
from servicing.planning.table_intervals import read_interval
from servicing.planning.table_marks import meaning


def rule(said, **more):
    """First hours, every hours, first months, every months of words that are certain, by condition."""
    read = read_interval(said, **more)
    assert read is not None
    assert read.doubt == ""
    return {
        condition: (each.first_hours, each.every_hours, each.first_months, each.every_months)
        for condition, each in meaning(read.first.marks).rules.items()
    }


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("first 50 h, then every 200 h", (50, 200, None, None)),
        ("First: 50 h; thereafter every 250 h", (50, 250, None, None)),
        ("after 5 h, then every 100 h", (5, 100, None, None)),
        ("every 250 h, first at 50 h", (50, 250, None, None)),
        ("50 (once), then 1,000", (50, 1000, None, None)),
        ("every 400 h or 2 years, whichever comes first", (None, 400, None, 24)),
        ("every 500 hours or every six months", (None, 500, None, 6)),
        ("500 or annually", (None, 500, None, 12)),
        ("500 h / 12 mo.", (None, 500, None, 12)),
        ("first 50 h or 3 months, then 500 h or 12 months", (50, 500, 3, 12)),
        ("every other year", (None, None, None, 24)),
        ("twice a year", (None, None, None, 6)),
        ("every 13 weeks", (None, None, None, 3)),
        ("every 10 h or daily", (None, 10, None, None)),
        ("each season", (None, None, None, 12)),
        ("first month", (None, None, 1, None)),
        ("Nach den ersten 50 Betriebsstunden", (50, None, None, None)),
        ("nach 50 Std. einmalig", (50, None, None, None)),
        ("Alle 1.000 Betriebsstunden oder alle 2 Jahre", (None, 1000, None, 24)),
        ("alle 500 h oder alle 12 Monate, je nachdem was zuerst eintritt", (None, 500, None, 12)),
        ("jedes Jahr oder 500 Std", (None, 500, None, 12)),
        ("alle 12,5 h", (None, Decimal("12.5"), None, None)),
        ("alle 1,5 Jahre", (None, None, None, 18)),
        ("Aux 50 premières heures, puis toutes les 250 h", (50, 250, None, None)),
        ("Après les 10 premières heures, puis toutes les 100 h", (10, 100, None, None)),
        ("Toutes les 1 000 h ou tous les 2 ans, au premier des deux termes", (None, 1000, None, 24)),
        ("Toutes les 500 h ou une fois par an", (None, 500, None, 12)),
        ("chaque année", (None, None, None, 12)),
        ("Primeras 50 h, después cada 250 h", (50, 250, None, None)),
        ("a las 50 horas y luego cada 200 horas", (50, 200, None, None)),
        ("Cada 1.000 h o 2 años, lo que ocurra primero", (None, 1000, None, 24)),
        ("Dopo le prime 50 ore, poi ogni 250 ore o una volta all'anno", (50, 250, None, 12)),
        ("Ogni anno", (None, None, None, 12)),
        ("Na de eerste 50 uur, daarna elke 200 uur", (50, 200, None, None)),
        ("Elke 1.000 uur of jaarlijks", (None, 1000, None, 12)),
        *((said, (None, 10, None, None)) for said in ("daily", "täglich", "Chaque jour", "Diariamente")),
        *((said, (None, 10, None, None)) for said in ("Ogni giorno", "Dagelijks", "before each use")),
    ],
)
def test_what_can_be_read_in_one_way_only(said, expected):
    assert rule(said) == {"normal": expected}


@pytest.mark.parametrize(
    ("said", "condition", "hours"),
    [
        ("every 25 h in wet and muddy work", "wet", 25),
        ("in dusty conditions every 75 h", "dust", 75),
        ("bei Staub alle 50 Std.", "dust", 50),
        ("En condiciones de mucho polvo: cada 50 h.", "dust", 50),
        ("heavy work: 150 h", "heavy", 150),
    ],
)
def test_a_condition_has_its_own_interval(said, condition, hours):
    (mark,) = read_interval(said).first.marks
    assert (mark.condition, mark.hours) == (condition, hours)


def test_both_in_one_cell():
    assert rule("Toutes les 100 h (toutes les 50 h en ambiance poussiéreuse)") == {
        "normal": (None, 100, None, None),
        "dust": (None, 50, None, None),
    }


@pytest.mark.parametrize(
    "said",
    [
        *("as required", "when necessary", "bei Bedarf", "au besoin", "según sea necesario", "al bisogno"),
        *("indien nodig", "before storage", "vor der Einlagerung", "avant remisage"),
        *("antes del almacenamiento", "prima del rimessaggio", "voor de winterstalling"),
    ],
)
def test_what_hangs_on_no_hours_and_no_months(said):
    read = read_interval(said)
    assert (read.first.marks, read.doubt) == ((), "")
    assert read.first.when


def test_marks_and_an_occasion_together():
    read = read_interval("every 100 h or as required")
    assert (len(read.first.marks), read.first.when, read.doubt) == (1, "as required", "")


@pytest.mark.parametrize(
    ("said", "doubt", "hours"),
    [
        ("200-250 h", "range", [200, 250]),
        ("every 50 to 100 h", "range", [50, 100]),
        ("every 5,000 km", "km", []),
        ("250 h or 10,000 km", "km", [250]),
        ("every 6 weeks", "weeks", []),
        ("weekly", "weeks", [50]),
        ("every 2nd oil change", "event", []),
        ("every 2 oil changes", "event", []),
        ("about 50 h", "loose", [50]),
        ("Evrey 50 h", "loose", [50]),
        ("every 1OO h", "loose", [100]),
        ("not every 100 h", "loose", [100]),
        ("every 500 h or 12 months, whichever comes last", "later", [500]),
        ("at 500 h", "bare", [500, 500]),
        ("50 h and every 200 h", "several", [50, 200]),
        ("50 h, 250 h, 500 h", "several", [50, 250, 500]),
        ("every 2", "unitless", [2]),
    ],
)
def test_what_is_asked(said, doubt, hours):
    read = read_interval(said)
    assert read.doubt == doubt
    assert why(doubt)
    found = [mark.hours for reading in read.readings for mark in reading.marks if mark.hours]
    assert found == hours
    assert read.readings[-1].marks == ()


@pytest.mark.parametrize(
    "said", ["", "●", "Engine oil", "machines with cab only", "x" * 500, "Nur Fachwerkstatt."]
)
def test_what_says_no_interval(said):
    assert read_interval(said) is None


def test_a_heading_gives_unit_and_first_time():
    assert rule("50", unit="hours", first=True) == {"normal": (50, None, None, None)}
    assert rule("12", unit="months") == {"normal": (None, None, None, 12)}
