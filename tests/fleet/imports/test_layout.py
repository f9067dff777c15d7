"""How tables lie in their files, and that what they hold becomes one reading a row."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from openpyxl import Workbook

from fleet.core.errors import FleetError
from fleet.imports.cell_values import Wrong
from fleet.imports.fleet import Fleet, Known
from fleet.imports.layout import Layout
from fleet.imports.looking import look_over
from fleet.imports.plan import Plan
from fleet.imports.rows import _submitted, body
from fleet.imports.table import open_table

THEN = datetime(2026, 4, 1, 12, tzinfo=UTC)
FLEET = Fleet(
    [
        Known(1, "T-04", "TB00471", last_at=THEN, last=Decimal("1251.0")),
        Known(2, "T-07", "TB00833", last_at=THEN, last=Decimal("870.0")),
        Known(3, "L-01", "LK-20119", last_at=THEN, last=Decimal(5010)),
    ]
)
BOTH = [(1, date(2026, 5, 2), "1302.4"), (2, date(2026, 5, 2), "884.2")]


@pytest.fixture
def looked(tmp_path):
    """Look over a CSV of this text, or a workbook of these sheets; return the plan and what rows say."""

    def looked(content, **answers):
        if isinstance(content, str):
            path = tmp_path / "hours.csv"
            path.write_text(content, encoding="utf-8")
        else:
            path = tmp_path / "hours.xlsx"
            book = Workbook()
            book.remove(book.active)
            for title, rows in content.items():
                sheet = book.create_sheet(title)
                for row in rows:
                    sheet.append(row)
            book.save(path)
        table = open_table(path, path.name)
        found = look_over(table, FLEET)
        plan = Plan.kept(found.plan.to_keep() | answers)
        said = []
        for row in body(table, plan):
            try:
                sent = _submitted(row, plan, FLEET)
                said.append((sent.machine, sent.taken_at.date(), str(sent.shows)))
            except Wrong as error:
                said.append(str(error))
        assert found.rows == len(said)
        return found.plan, said

    return looked


@pytest.mark.parametrize(
    "text",
    [
        "Machine,Date,Hours\nT-04,2026-05-02,1302.4\nT-07,2026-05-02,884.2\n",
        "Hour book of the farm\nwritten up by Ida\nMachine,Date,Hours\n"
        "T-04,2026-05-02,1302.4\nT-07,2026-05-02,884.2\n",
        "Date;T-04;T-07\n02.05.2026;1302,4;884,2\n",
        "Date;T 4 (h);t-7 (h);Weather\n2026-05-02;1302,4;884,2;rain\n",
        "Machine;2026-05-02;Next service\nT-04;1302,4;1400\nT-07;884,2;1000\n",
        "Machine;2 May 2026;9 May 2026\nT-04;1302,4;\nT-07;884,2;\n",
        "Date;Machine;Hours;Machine;Hours\n2026-05-02;T-04;1302,4;T-07;884,2\n",
        "Date;Machine 1;Hours 1;Machine 2;Hours 2\n2026-05-02;T-04;1302,4;T-07;884,2\n",
        "Machine;Date;Hours;Machine;Date;Hours\nT-04;2026-05-02;1302,4;T-07;2026-05-02;884,2\n",
        ";T-04;;T-07;\nDate;Hours;Diesel;Hours;Diesel\n2026-05-02;1302,4;40;884,2;31\n",
        "Machine: T-04;;\nDate;Hour meter;Litres\n2026-05-02;1302,4;40\n\nMachine: T-07 (Brava B 30);;\n"
        "Date;Hour meter;Litres\n2026-05-02;884,2;31\n",
        "T-04;;\nDate;Reading;By\n2026-05-02;1302,4;Ida\nT-07;;\n2026-05-02;884,2;Ida\n",
        "T-04;Brava B 48;\nDate;Reading;By\n2026-05-02;1302,4;Ida\nT-07;Brava B 30;\n2026-05-02;884,2;Ida\n",
        "Machine;Date;Hours;Fuel\n;;(h);(l)\nT-04;2026-05-02;1302,4;40\nT-07;2026-05-02;884,2;31\n",
        "Readings of 2 May 2026;;\n;;\nMachine;Type;Hours\nT-04;tractor;1302,4\nT-07;tractor;884,2\n",
        "Stand: 02.05.2026;;\nMaschine;Typ;Betriebsstunden\nT-04;Schlepper;1.302,4\nT-07;Schlepper;884,2\n",
        "Unit|Read on|Meter\nT-04|2026-05-02|1302.4\nT-07|2026-05-02|884.2\n",
        "2 May 2026   T-04   1302.4\n2 May 2026   T-07    884.2   (oil low)\n",
        "2026-05-02;T-04;1302,4;T-07;884,2\n",
        "Maschine;Stand 31.03.2026;Stand 02.05.2026\nT-04;;1302,4\nT-07;;884,2\n",
        "Maschine;Bh per 02.05.2026;nächster Service\nT-04;1302,4;1400\nT-07;884,2;1000\n",
        "Date;Tractor;Hours;Loader;Reading\n2026-05-02;T-04;1302,4;T-07;884,2\n",
        "2026-05-02,T-04,44120,1302.4,61.5\n2026-05-02,T-07,20871,884.2,40\n",
    ],
)
def test_each_layout_comes_to_the_same_two_readings(looked, text):
    plan, said = looked(text, order="dmy", decimal="," if "1302,4" in text or "1.302,4" in text else ".")
    assert plan.missing() == []
    assert [row for row in said if isinstance(row, tuple)] == BOTH


def test_totals_notes_and_strangers_are_told_and_none_is_lost(looked):
    _plan, said = looked(
        "Machine;Date;Hours\nT-04;2026-05-02;1302,4\n* back with an empty tank;;\nT-99;2026-05-02;77\n"
        "Total;;1379,4\n;Subtotal;5\n"
    )
    assert said[0] == BOTH[0]
    assert said[1] == "The date is missing."
    assert said[2][0] == "T-99"  # the door refuses it: no such machine
    assert said[3:] == ["This row is a total, not a reading."] * 2


def test_below_a_section_of_a_machine_that_is_not_known_nothing_is_taken_for_the_one_above(looked):
    _plan, said = looked(
        "T-04;\nDate;Hours\n2026-05-02;1302,4\nT-99;\n2026-05-02;77\nTotal;1379,4\nT-07;\n2026-05-02;884,2\n"
    )
    assert said[0] == BOTH[0]
    assert said[1][0] == "T-99"
    assert said[2:] == ["This row is a total, not a reading.", BOTH[1]]


def test_a_machine_across_that_is_not_known_is_handed_in_by_its_name(looked):
    _plan, said = looked("Date;T-04;T-99;Sum\n2026-05-02;1302,4;77;9\n2026-05-09;;;\n")
    assert said == [BOTH[0], ("T-99", date(2026, 5, 2), "77"), "The machine is missing."]


def test_a_decimal_comma_that_parts_columns_is_refused(looked):
    """Counted without a word it would be 1302 h."""
    _plan, said = looked("Machine,Date,Hours\nT-04,2026-05-02,1302,4\nT-07,2026-05-02,884\n")
    assert said[0] == "This row has more cells than there are headings. Does a decimal comma part it?"
    assert said[1] == (2, date(2026, 5, 2), "884")


def test_rows_below_other_headings_are_refused(looked):
    _plan, said = looked(
        "Machine;Date;Hours\nT-04;2026-05-02;1302,4\nMachine;Date;Hours\nT-07;2026-05-02;884,2\n"
        "Machine;Date;km\nT-04;2026-05-02;1310\nMachine;Date;Hours\nL-01;2026-05-02;5020\n"
    )
    assert [row for row in said if isinstance(row, tuple)] == [*BOTH, (3, date(2026, 5, 2), "5020")]
    assert said[3:5] == ["This row stands below other headings than the first."] * 2


def test_a_machine_across_that_has_no_figure_yet_keeps_its_place(looked):
    _plan, said = looked("Date;T-04;T-07\n2026-05-02;1302,4;-\n")
    assert said == [BOTH[0], "“-” is not a number of hours."]


def test_a_sum_that_says_nothing_is_no_reading_of_the_machine_above(looked):
    _plan, said = looked(
        "Machine;Date;Hours\nT-04;2026-05-02;1302,4\n;2026-05-03;1310\n;;2612\n", above="yes"
    )
    assert said == [BOTH[0], (1, date(2026, 5, 3), "1310"), "The machine is missing."]


def test_times_of_day_without_a_heading(looked):
    plan, _said = looked("T-04;2026-05-02;07:30;1302,4\nT-07;2026-05-02;16:45;884,2\n")
    assert (plan.machine, plan.taken_at, plan.time, plan.hours) == (0, 1, 2, 3)


def test_months_across_ask_for_their_day(looked):
    text = "Machine;May 26;Jun 26\nT-04;1302,4;1310\n"
    plan, said = looked(text)
    assert plan.asks == ("within",)
    assert said == ["“May 2026” names no day.", "“Jun 2026” names no day."]
    _plan, said = looked(text, within="last")
    assert said == [(1, date(2026, 5, 31), "1302.4"), (1, date(2026, 6, 30), "1310")]


def test_a_sheet_per_machine_is_read_and_what_is_no_such_sheet_is_told(looked):
    head = ["Date", "Reading", "Litres"]
    plan, said = looked(
        {
            "Info": [["Hour book"], ["last printed", 46146]],
            "T-04": [head, [46144, 1302.4, 40]],
            "t 7": [["May"], head, [date(2026, 5, 2), 884.2, 31]],
            "Sold": [head, [46144, 12, 1]],
        }
    )
    assert plan.layout is not None
    assert plan.layout.titles
    refusal = "Sheet “Info” has no such headings, and isn't read."
    assert said == [refusal, refusal, *BOTH, ("Sold", date(2026, 5, 2), "12")]


def test_every_sheet_of_the_same_headings_is_read(looked):
    head = ["Machine", "Date", "Hours"]
    _plan, said = looked(
        {
            "April": [head, ["T-04", date(2026, 5, 2), 1302.4]],
            "May": [head, ["T-07", date(2026, 5, 2), 884.2]],
        }
    )
    assert said == BOTH


def test_lengths_of_time_in_a_workbook_are_hours_and_minutes(looked, tmp_path):
    book = Workbook()
    sheet = book.active
    for row in (
        ["Machine", "Date", "Meter"],
        ["T-04", date(2026, 5, 2), 1302.5 / 24],
        ["T-07", 46144, 884.2 / 24],
    ):
        sheet.append(row)
    for cell in ("C2", "C3"):
        sheet[cell].number_format = "[h]:mm"
    path = tmp_path / "lengths.xlsx"
    book.save(path)
    table = open_table(path, path.name)
    plan = look_over(table, FLEET).plan
    said = [_submitted(row, plan, FLEET) for row in body(table, plan)]
    assert [(each.machine, str(each.shows)) for each in said] == [(1, "1302.50"), (2, "884.20")]


def test_blanks_are_as_above_only_where_a_person_says_so(looked):
    text = 'Date;Machine;Hours\n2026-05-02;T-04;1302,4\n"""";T-07;884,2\nTotal;;9\n'
    plan, said = looked(text)
    assert plan.asks == ("above",)
    assert said[0] == BOTH[0]
    assert said[1] == '“"” is not a date.'
    _plan, said = looked(text, above="yes")
    assert said == [*BOTH, "This row is a total, not a reading."]


def test_a_layout_survives_being_kept_and_goes_on_at_any_row(looked, tmp_path):
    plan, said = looked(
        "Date;T-04;T-07\n2026-05-02;1302,4;884,2\n2026-05-09;1310;890\n", order="dmy", decimal=","
    )
    kept = Plan.kept(plan.to_keep() | {"order": "dmy", "decimal": ","})
    assert kept.layout == plan.layout != Layout()
    table = open_table(tmp_path / "hours.csv", "hours.csv")
    for done in range(5):
        rest = [_submitted(row, kept, Fleet(FLEET.machines)) for row in body(table, kept, after=done)]
        assert [(each.machine, each.taken_at.date(), str(each.shows)) for each in rest] == said[done:]


def test_more_readings_than_a_file_may_have_rows_are_refused_while_they_are_read(looked, monkeypatch):
    monkeypatch.setattr("fleet.imports.layout.MOST_ROWS", 3)
    with pytest.raises(FleetError, match="holds more than 3 readings; send it in parts"):
        looked("Date;T-04;T-07\n2026-05-02;1302,4;884,2\n2026-05-09;1310;890\n")
