"""Which column holds what."""

from pathlib import Path

import pytest

from fleet.core.errors import FleetError
from fleet.imports.column_mapping import guess, learn_habits
from fleet.imports.find_layout import find_layout
from fleet.imports.fleet import Fleet, Known
from fleet.imports.plan import Plan, headings, strict
from fleet.imports.table import FileRow, Table

FLEET = Fleet(Known(number, tag) for number, tag in enumerate(("T-01", "T-02", "1001", "1002")))


def rows(*lines):
    return [FileRow(number, list(cells)) for number, cells in enumerate(lines, start=1)]


def told(lines, fleet=FLEET, habit=""):
    """What is guessed of a CSV of these rows."""
    table = Table(Path("x.csv"), "x.csv", "CSV", sample=lines)
    return guess(lines, fleet=fleet, layout=find_layout(table, fleet), habit=habit)


def roles(plan):
    return {role: getattr(plan, role) for role in ("machine", "taken_at", "hours", "time", "note")}


def test_by_their_headings():
    plan = told(rows(["Hours", "Remarks", "Unit", "Date", "Time"], ["9", "x", "?", "2026-01-05", "7:00"]))
    assert roles(plan) == {"machine": 2, "taken_at": 3, "hours": 0, "time": 4, "note": 1}
    assert plan.heading


@pytest.mark.parametrize("name", ["EquipmentID", "SerialNumber"])
def test_by_the_names_of_iso_15143_3(name):
    plan = told(rows([name, "Date", "Hours"], ["?", "2026-01-05", "9"]))
    assert (plan.machine, plan.heading) == (0, True)


def test_by_their_contents_without_a_heading():
    plan = told(rows(["05.01.2026", "T-01", "10,5"], ["12.01.2026", "T-02", "1.031,5"]))
    assert roles(plan) == {"machine": 1, "taken_at": 0, "hours": 2, "time": None, "note": None}
    assert (plan.heading, plan.order, plan.decimal) == (False, "", ",")


def test_tags_that_are_numbers_are_not_taken_for_hours():
    plan = told(rows(["no", "on", "value"], ["1001", "2026-01-05", "310"], ["1002", "2026-01-05", "990"]))
    assert (plan.machine, plan.taken_at, plan.hours) == (0, 1, 2)


def test_a_file_of_rejects_is_read_by_its_own_columns():
    plan = told(
        rows(
            ["line", "reason", "machine", "taken_at", "hours"], ["3", "No date.", "T-01", "2026-01-05", "10"]
        ),
    )
    assert (plan.machine, plan.taken_at, plan.hours) == (2, 3, 4)


def test_the_habit_decides_only_where_the_dates_do_not():
    head = ["machine", "date", "hours"]
    assert told(rows(head, ["T-01", "03/05/2026", "1"])).order == ""
    assert told(rows(head, ["T-01", "03/05/2026", "1"]), habit="mdy").order == "mdy"
    assert told(rows(head, ["T-01", "23/05/2026", "1"]), habit="mdy").order == "dmy"


def test_a_wrong_cell_does_not_hide_what_the_rest_tells():
    lines = [["T-01", "23/05/2026", "1.204,5"], ["T-01", "soon", "ten"]]
    plan = told(rows(["machine", "date", "hours"], *lines))
    assert (plan.order, plan.decimal) == ("dmy", ",")


@pytest.mark.parametrize(
    ("dates", "order"),
    [
        (["03/05/2026", "25/05/2026"], "dmy"),
        (["03/05/2026", "05/25/2026"], "mdy"),
        (["03/05/2026"], ""),  # 3 May or 5 March: a person has to say
        (["05/05/2026"], "dmy"),  # it makes no difference
        (["05/05/2026"] * 300 + ["06/05/2026"], ""),  # nor does what comes late go unheard
        (["03/05/2026"] * 300 + ["05/25/2026"], "mdy"),
        (["2026-05-03", "3 May 2026"], "dmy"),
        (["25/05/2026", "26/05/2026", "05/27/2026"], ""),  # one tells otherwise: it is asked, never outvoted
        (["26-05-03", "26-12-30"], "ymd"),
    ],
)
def test_what_dates_tell_of_their_order(dates, order):
    assert learn_habits(Plan(0, 1, 2), rows(*(["T-01", each, "1"] for each in dates))).order == order


@pytest.mark.parametrize(
    ("figures", "decimal"),
    [
        (["1204.5", "1,204"], "."),
        (["1204,5"], ","),
        (["1204"], "."),
        (["1,204", "1,310"], ""),
        (["1.204,5"], ","),
        (["1204.5", "1204,5"], "."),  # each can be meant one way alone
        (["1204.5", "1204,5", "1.310"], ""),
    ],
)
def test_what_figures_tell_of_their_decimal_mark(figures, decimal):
    plan = learn_habits(Plan(0, 1, 2), rows(*(["T-01", "2026-05-03", each] for each in figures)))
    assert plan.decimal == decimal


def test_what_is_left_to_ask_is_named():
    with pytest.raises(FleetError, match="no column that is certain to be taken_at, hours"):
        strict(Plan(0, None, None), "x.csv")
    with pytest.raises(FleetError, match="day or the month"):
        strict(Plan(0, 1, 2, decimal="."), "x.csv")
    with pytest.raises(FleetError, match="decimal point or a comma"):
        strict(Plan(0, 1, 2, order="dmy"), "x.csv")


def test_columns_without_a_name_are_named_by_their_place():
    sample = rows(["T-01", "2026-01-05", "1"])
    assert headings(sample, Plan(0, 1, 2, heading=False)) == ["Column 1", "Column 2", "Column 3"]


def test_a_plan_survives_being_kept():
    plan = Plan(0, 1, 2, note=3, order="mdy", decimal=",")
    assert Plan.kept(plan.to_keep()) == plan
