"""Which column is the meter, told by what it holds against what the machines showed before."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from fleet.imports.column_mapping import guess
from fleet.imports.evidence import Figure, weigh
from fleet.imports.find_layout import find_layout
from fleet.imports.fleet import Fleet, Known
from fleet.imports.headings import is_total, kinds, look_alike, normal
from fleet.imports.table import FileRow, Table

THEN = datetime(2026, 4, 1, 12, tzinfo=UTC)
OLD = Known(1, "T-04", "TB00471", last_at=THEN, last=Decimal("1251.0"))
NEW = Known(2, "E-01")


def chosen(head, *lines, fleet=None):
    """The heading of the column that is taken for the meter, and those between which is asked."""
    rows = [FileRow(number, list(cells)) for number, cells in enumerate([head, *lines], start=1)]
    known = fleet or Fleet([OLD, NEW])
    table = Table(Path("x.csv"), "x.csv", "CSV", sample=rows)
    plan = guess(rows, fleet=known, layout=find_layout(table, known))
    return (head[plan.hours] if plan.hours is not None else None), [head[place] for place in plan.between]


def test_the_meter_goes_on_from_what_the_machine_showed_and_the_odometer_does_not():
    head = ["unit", "day", "a", "b", "c"]
    lines = [["T-04", "2026-05-02", "44120", "1302.4", "61"], ["T-04", "2026-05-09", "44391", "1316.0", "58"]]
    assert chosen(head, *lines) == ("b", [])


def test_place_says_nothing():
    head = ["Next service", "Hours", "km", "Date", "Unit"]
    assert chosen(head, ["1400", "1302.4", "1303", "2026-05-02", "T-04"]) == ("Hours", [])


@pytest.mark.parametrize(
    ("head", "figures"),
    [
        (["Start", "End"], ["1290.0", "1302.4"]),
        (["Stand Anfang", "Stand Ende"], ["1290.0", "1302.4"]),
        (["Compteur début", "Compteur fin"], ["1290.0", "1302.4"]),
        (["x", "y"], ["1290.0", "1302.4"]),
        (["Hour meter 1", "Hour meter 2"], ["1290.0", "1302.4"]),
    ],
)
def test_of_two_possible_columns_none_is_chosen(head, figures):
    assert chosen(["Unit", "Date", *head], ["T-04", "2026-05-02", *figures]) == (None, head)


@pytest.mark.parametrize("head", ["Hours", "Hour meter", "Betriebsstunden", "Reading"])
def test_a_column_headed_as_the_meter_that_does_not_go_on_from_it_is_asked(head):
    """Hours of a day below the name of the meter."""
    lines = [["T-04", "2026-05-02", "7.5"], ["T-04", "2026-05-03", "8"], ["T-04", "2026-05-04", "6"]]
    assert chosen(["Unit", "Date", head], *lines) == (None, [head])


@pytest.mark.parametrize(
    "head", ["km", "Next service", "Letzte Wartung bei", "Hours worked", "Litri", "ha", "Prijs"]
)
def test_what_only_looks_like_the_meter_is_never_chosen_by_itself(head):
    assert chosen(["Unit", "Date", head], ["T-04", "2026-05-02", "1302.4"]) == (None, [head])


def test_on_a_first_import_two_rising_columns_are_asked_about():
    lines = [["E-01", "2026-05-02", "2410", "1877.5"], ["E-01", "2026-05-09", "2436", "1892.5"]]
    assert chosen(["F1", "F2", "F3", "F4"], *lines) == (None, ["F3", "F4"])
    assert chosen(["Unit", "Date", "Betriebsstunden", "F4"], *lines) == ("Betriebsstunden", [])


def test_weighing_tells_how_many_go_on_and_what_falls():
    def at(days, shows, machine=OLD):
        return Figure(machine, THEN + timedelta(days=days), Decimal(shows))

    good = weigh([at(30, "1302.4"), at(60, "1400")])
    assert (good.compared, good.fit, good.goes_on, good.contradicts) == (2, 2, True, False)
    assert weigh([at(-30, "1200")]).goes_on  # before the last reading it stood lower
    assert not weigh([at(-30, "1300")]).goes_on
    assert weigh([at(1, "1298")]).goes_on  # a plain day may be off by one
    assert weigh([at(1, "1300")]).contradicts
    falls = weigh([at(1, "8", NEW), at(2, "6", NEW)])
    assert (falls.compared, falls.steps, falls.rising, falls.contradicts) == (0, 1, 0, True)
    assert falls.falls == (at(1, "8", NEW), at(2, "6", NEW))


@pytest.mark.parametrize(
    ("heading", "kind"),
    [
        ("Odometer (km)", "odometer"),
        ("km-Stand", "odometer"),
        ("Kilométrage", "odometer"),
        ("Next service at", "next"),
        ("nächster Service bei", "next"),
        ("Prochain entretien", "next"),
        ("Próxima revisión", "next"),
        ("Prossimo tagliando", "next"),
        ("Volgende beurt", "next"),
        ("Last service", "last"),
        ("Letzter Stand", "last"),
        ("Dernière vidange", "next"),
        ("Start hours", "start"),
        ("Stand Anfang", "start"),
        ("Compteur début", "start"),
        ("Stand Ende", "end"),
        ("Horóm. llegada", "end"),
        ("Hours worked", "daily"),
        ("Heures du jour", "daily"),
        ("Ore lavorate", "daily"),
        ("Gewerkte uren", "daily"),
        ("Diesel (l)", "fuel"),
        ("Carburant", "fuel"),
        ("Fläche ha", "area"),
        ("Importe €", "price"),
        ("Preis", "price"),
        ("Zählerstand (h)", ""),
        ("Betriebsstunden", ""),
        ("Compteur horaire", ""),
        ("Horómetro", ""),
        ("Contaore", ""),
        ("Urenstand", ""),
    ],
)
def test_headings_in_six_languages_say_what_a_column_holds(heading, kind):
    assert look_alike(normal(heading)) == kind
    if not kind:
        assert "meter" in kinds(normal(heading))


@pytest.mark.parametrize(
    "text", ["Total", "Summe", "Subtotaal", "Totale", "Somme", "SUMA", "Gesamt:", "Zwischensumme"]
)
def test_totals_in_six_languages(text):
    assert is_total(text)


@pytest.mark.parametrize("text", ["T-04", "Totalpha 3", "Sumo 4", ""])
def test_no_totals(text):
    assert not is_total(text)


SAME = Fleet([OLD, NEW, Known(3, "T-40"), Known(4, "M-1", "T0471"), Known(5, "M-001", "X1")])


@pytest.mark.parametrize(
    ("name", "tag"),
    [
        ("T-04", "T-04"),
        ("t 4", "T-04"),
        ("T04", "T-04"),
        ("T-004", "T-04"),
        ("t_4", "T-04"),
        ("tb-471", "T-04"),
        ("TB 00471", "T-04"),
        ("T-40", "T-40"),
        ("T-04 (Brava B 48)", "T-04"),
        ("T 4 Schlepper", "T-04"),
        ("M-1", "M-1"),
        ("m 001", "M-001"),
        ("M-01", None),  # M-1 or M-001
        ("T", None),
        ("4", None),
        ("tractor", None),
        ("T-4 2", None),
        ("", None),
    ],
)
def test_a_name_finds_a_machine_where_exactly_one_is_meant(name, tag):
    found = SAME.find(name)
    assert (found.tag if found else None) == tag


def test_words_that_name_one_machine():
    assert SAME.named_in("Moissonneuse T-04, juillet 2026").tag == "T-04"
    assert SAME.named_in("T-04 and T-40") is None
    assert [each.tag for each in SAME.meant("M-01")] == ["M-1", "M-001"]
