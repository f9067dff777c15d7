"""Reading a maker's table: headings, marks, footnotes, and the place of each cell that can't be read.

The tables are invented. How such tables are printed (marks, cumulative columns, first-time circles, notes,
"10 hours or daily") is common practice; no source.
"""

from decimal import Decimal

import pytest

from servicing.planning import maker_table
from servicing.planning.intervals import Rule
from servicing.planning.table_headings import read_heading, unit_of
from servicing.planning.table_marks import Marked, meaning

H = Decimal
NO_MARK = "is not a mark. Write x where it is due each time, o for the first time only."


def pasted(text):
    return maker_table.read(maker_table.cells(text.strip("\n")))


def rules_of(text):
    found = pasted(text)
    assert [str(fault) for fault in found.faults] == []
    return {task.title: meaning(task.marks).rules for task in found.tasks}


@pytest.mark.parametrize(
    ("heading", "hours", "months", "first", "condition"),
    [
        ("50 h first", 50, None, True, "normal"),
        ("first 50", 50, None, True, "normal"),
        ("Initial 50 hours", 50, None, True, "normal"),
        ("After the first 50 h", 50, None, True, "normal"),
        ("every 100 h", 100, None, False, "normal"),
        ("Every 1,000 hrs", 1000, None, False, "normal"),
        ("1 000 h", 1000, None, False, "normal"),
        ("100", 100, None, False, "normal"),
        ("12.5 h", 12.5, None, False, "normal"),
        ("daily", 10, None, False, "normal"),
        ("10 h or daily", 10, None, False, "normal"),
        ("1 year", None, 12, False, "normal"),
        ("2 years", None, 24, False, "normal"),
        ("12 months", None, 12, False, "normal"),
        ("1.5 years", None, 18, False, "normal"),
        ("Annually", None, 12, False, "normal"),
        ("quarterly", None, 3, False, "normal"),
        ("monthly", None, 1, False, "normal"),
        ("600 months", None, 600, False, "normal"),
        ("601 months", None, None, None, None),
        ("0 months", None, None, None, None),
        ("500 h or 6 months", 500, 6, False, "normal"),
        ("500 h / 6 months", 500, 6, False, "normal"),
        ("Every 250 hours or every 12 months", 250, 12, False, "normal"),
        ("dust 50 h", 50, None, False, "dust"),
        ("every 50 h (severe dust)", 50, None, False, "dust"),
        ("weekly, heavy load", 50, None, False, "heavy"),
        ("Task", None, None, None, None),
        ("0 h", None, None, None, None),
        ("about 50", None, None, None, None),
        ("50 litres", None, None, None, None),
        ("1.25 months", None, None, None, None),
    ],
)
def test_heading(heading, hours, months, first, condition):
    column = read_heading(heading)
    if first is None:
        assert column.kind == "task"
    else:
        assert (column.kind, column.hours, column.months) == ("interval", hours, months)
        assert (column.first, column.condition) == (first, condition)


@pytest.mark.parametrize(
    ("heading", "kind"), [("Manual page", "page"), ("p.", "page"), ("Notes", "note"), ("No.", "unread")]
)
def test_heading_of_what_is_no_interval(heading, kind):
    assert read_heading(heading).kind == kind


def mark(hours=None, months=None, first=False, condition="normal"):
    return Marked(None if hours is None else H(hours), months, first, condition)


@pytest.mark.parametrize(
    ("marks", "rule"),
    [
        ([mark(50, first=True), mark(200)], Rule(first_hours=H(50), every_hours=H(200))),
        ([mark(50, first=True)], Rule(first_hours=H(50), once=True)),
        ([mark(200), mark(400), mark(800)], Rule(every_hours=H(200))),
        ([mark(400), mark(months=24)], Rule(every_hours=H(400), every_months=24)),
        ([mark(months=12), mark(months=24)], Rule(every_months=12)),
        ([mark(500, 6)], Rule(every_hours=H(500), every_months=6)),
        ([mark(50, first=True), mark(months=12)], Rule(first_hours=H(50), every_months=12)),
        (
            [mark(50, first=True), mark(100, first=True), mark(200)],
            Rule(first_hours=H(50), every_hours=H(200)),
        ),
    ],
)
def test_marks_of_a_row(marks, rule):
    assert meaning(marks).rules == {"normal": rule}


@pytest.mark.parametrize(
    ("marks", "remarks"),
    [
        ([mark(200)], []),
        (
            [Marked(months=1), Marked(months=6), Marked(months=12)],
            ["Also marked at 6 and 12 months, which every month includes."],
        ),
        ([mark(200), mark(400), mark(800)], ["Also marked at 400 and 800 h, which every 200 h includes."]),
        ([mark(100), mark(250)], ["Also marked at 250 h, not a multiple of 100; check the table."]),
        (
            [mark(500, first=True), mark(100)],
            ["First at 500 h is not sooner than every 100 h; check the table."],
        ),
        (
            [mark(100, first=True), mark(100)],
            ["First at 100 h is not sooner than every 100 h; check the table."],
        ),
        ([mark(99, first=True), mark(100)], []),
        ([mark(100, condition="dust")], ["Marked for dust only; read as due in every condition."]),
    ],
)
def test_what_a_person_should_look_at_is_said(marks, remarks):
    assert list(meaning(marks).remarks) == remarks


def test_a_condition_can_only_shorten():
    found = meaning(
        [mark(200), mark(months=12), mark(50, condition="dust"), mark(400, condition="wet")]
    ).rules
    assert found == {
        "normal": Rule(every_hours=H(200), every_months=12),
        "dust": Rule(every_hours=H(50), every_months=12),
        "wet": Rule(every_hours=H(200), every_months=12),
    }


TABLE = """
No.\tTask\t50 h first\tevery 100 h\t200\t400 h\t1 year\t2 years\tPage
\tEngine
1\tEngine oil (2)\t●\t\t●\t●\t✓\t\t4-11
2\tAir filter\t\tx (1)\t\t\tx\t\t4-20
3\tCoolant\t\t\t\t\t\t●¹\t4-31
4\tWheel bolts\to\t\t\t\t\t\t5-2
5\tFuel hoses\t\to\t\t(1, 2)\t\t\t5-9
(1) Sooner where it is dusty.
(2)\tChange the filter with it.
"""


def test_a_table_as_makers_print_it():
    found = pasted(TABLE)
    assert found.faults == []
    assert found.headings == [(2, "Engine")]
    assert [(task.row, task.title, task.page, task.note) for task in found.tasks] == [
        (3, "Engine oil", "4-11", "Change the filter with it."),
        (4, "Air filter", "4-20", "Sooner where it is dusty."),
        (5, "Coolant", "4-31", "Sooner where it is dusty."),
        (6, "Wheel bolts", "5-2", ""),
        (7, "Fuel hoses", "5-9", "Sooner where it is dusty.\nChange the filter with it."),
    ]
    assert rules_of(TABLE) == {
        "Engine oil": {"normal": Rule(first_hours=H(50), every_hours=H(200), every_months=12)},
        "Air filter": {"normal": Rule(every_hours=H(100), every_months=12)},
        "Coolant": {"normal": Rule(every_months=24)},
        "Wheel bolts": {"normal": Rule(first_hours=H(50), once=True)},
        "Fuel hoses": {"normal": Rule(first_hours=H(100), every_hours=H(400))},
    }


def test_a_heading_over_several_columns_gives_the_unit():
    assert rules_of("\tHours\t\tYears\t\nTask\t100\t250\t1\t2\nOil\t\tx\tx\t\nHoses\t\t\t\tx") == {
        "Oil": {"normal": Rule(every_hours=H(250), every_months=12)},
        "Hoses": {"normal": Rule(every_months=24)},
    }


THIRTY = "Task\tfirst 50 h\t100 h\t200 h\t400 h\t1 year\t2 years\tPage\n" + "\n".join(
    f"Task {n}\t\t{'x' if n % 2 else ''}\t{'' if n % 2 else 'x'}\t\tx\t\t{n}-1" for n in range(1, 31)
)


def test_three_wrong_cells_among_thirty_tasks_are_each_named():
    table = maker_table.cells(THIRTY)
    table[4][3], table[17][5], table[29][1] = "R", "?", "x (3)"
    found = maker_table.read(table)
    assert [str(fault) for fault in found.faults] == [
        f"Row 5 (Task 4), column 4 (200 h): “R” {NO_MARK}",
        f"Row 18 (Task 17), column 6 (1 year): “?” {NO_MARK}",
        "Row 30 (Task 29), column 2 (first 50 h): “x (3)” refers to note 3, which is not below the table",
    ]
    assert len(found.tasks) == 27


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", "Row 1, column 1: the table is empty"),
        ("Task\tevery 100 h", "Row 2, column 1: there is no task below the headings"),
        ("Task\tPage\nOil\t4", "Row 1, column 1: no column is an interval"),
        ("100 h\t200 h\nx\tx", "Row 1, column 1: no column has the tasks"),
        ("Task\tsometimes\t100 h\nOil\t\tx", "Row 1, column 2: “sometimes” is not an interval"),
        ("Task\t\t100 h\nOil\tx\t", "Row 1, column 2: the heading is missing"),
        ("Task\t100 h\n\tx", "Row 2, column 1 (Task): the task has no name; write one"),
        (
            "Task\t100 h\tPage\nOil\t\t4-1",
            "Row 2 (Oil), column 2 (100 h): the task has no mark; write x where due",
        ),
        ("Task\t100 h\nOil\tx\noil\tx", "Row 3 (oil), column 1: the same task is in row 2"),
        ("Task\t100 h\n" + "a" * 161 + "\tx", "column 1 (Task): a task has at most 160 characters"),
    ],
)
def test_what_is_wrong_is_named_with_row_and_column(text, fault):
    (said,) = pasted(text).faults
    assert fault in str(said)


@pytest.mark.parametrize(
    ("rows", "columns", "cell", "said"),
    [
        (250, 18, 2000, None),
        (251, 2, 9, "The table has 251 rows; at most 250 rows can be read at once."),
        (2, 19, 9, "Row 1 has 19 columns; at most 18 columns can be read at once."),
        (2, 2, 2001, "Row 1 has a cell of more than 2,000 characters; shorten it."),
    ],
)
def test_how_large_a_table_may_be(rows, columns, cell, said):
    written = "\n".join("\t".join(["a" * cell] + ["x"] * (columns - 1)) for _ in range(rows))
    if said is None:
        assert [len(row) for row in maker_table.cells(written)] == [columns] * rows
        return
    with pytest.raises(maker_table.TooLarge) as refused:
        maker_table.cells(written)
    assert str(refused.value) == said


def test_how_long_a_task_and_a_page_may_be():
    found = pasted(f"Task\t100 h\tPage\n{'a' * 160}\tx\t{'4' * 20}")
    assert (found.faults, len(found.tasks)) == ([], 1)
    (fault,) = pasted(f"Task\t100 h\tPage\nOil\tx\t{'4' * 21}").faults
    assert str(fault) == "Row 2 (Oil), column 3 (Page): a page has at most 20 characters"


def test_a_letter_alone_over_columns_names_no_unit():
    assert [unit_of(said) for said in ("Every h", "Hrs of use", "Years", "")] == [
        None,
        "hours",
        "years",
        None,
    ]


def test_a_table_of_headings_alone_has_no_task():
    (fault,) = pasted("\tHours\t\nTask\t50\t100").faults
    assert str(fault).startswith("Row 3, column 1: there is no task below the headings")


def test_a_wrong_heading_does_not_hide_a_wrong_cell():
    found = pasted("Task\tsometimes\t100 h\nOil\tx\tq")
    assert [(fault.row, fault.column) for fault in found.faults] == [(1, 2), (2, 3)]


def test_cells_of_a_spreadsheet_may_be_quoted_over_lines():
    assert maker_table.cells('Task\t100 h\n"Engine oil\nand filter"\tx\n\n') == [
        ["Task", "100 h"],
        ["Engine oil and filter", "x"],
    ]
