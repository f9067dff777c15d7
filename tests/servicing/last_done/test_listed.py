"""A list is placed: one line a task, or machines across or down; what can't be placed is said."""

import pytest

from fleet.core.errors import FleetError
from servicing.last_done.asked import sheets
from servicing.last_done.listed import LARGEST, MOST_ROWS, read_list, rows_of
from tests.servicing.duties.program_machines import NOW

pytestmark = [pytest.mark.time_machine(NOW, tick=False), pytest.mark.usefixtures("in_farm")]


@pytest.fixture
def two(used, version):
    for code, title in (
        ("oil", "Change engine oil and filter"),
        ("grease", "Grease the front axle"),
        ("brakes", "Check the brakes"),
    ):
        version.tasks.filter(code=code).update(title=title)
    return used("T-07", serial="BX 00471"), used("T-08")


def placed(machines, text):
    found = read_list(rows_of(text), sheets([machine.pk for machine in machines]))
    names = {machine.pk: machine.tag for machine in machines}
    titles = {
        cell.task.pk: cell.task.code
        for sheet in sheets([machine.pk for machine in machines])
        for cell in sheet.cells.values()
    }
    cells = {(names[machine], titles[task]): text for (machine, task), text in found.cells.items()}
    return cells, found.unplaced


@pytest.mark.parametrize(
    "text",
    [
        "T-07;Change engine oil and filter;3190;12.10.2025\nT-08;Check the brakes;;Oct 2025",
        "Unit,Job,Hours,Date\nt07,engine oil,3190,12.10.2025\nT 8,brakes,,Oct 2025",
        "Engine oil\t3190\t12.10.2025\tT-07\nBRAKES\t\tOct 2025\tT-08",
        "BX-471|oil filter|3190|12.10.2025\nT-08|Check the brakes|Oct 2025",
        "\nMachine;Task;When\n\nT-07;Change engine oil;3190 12.10.2025\n;;\nT-08;brakes;Oct 2025\n",
        ";T-07;T-08\nChange engine oil and filter;3190 12.10.2025;\nCheck the brakes;;Oct 2025",
        "Task;T-07;T-08\nengine oil;3190 12.10.2025;\nbrakes;;Oct 2025",
        ";engine oil;brakes\nT-07;3190 12.10.2025;\nT-08;;Oct 2025",
        "What we know\nMachine;engine oil;brakes\nT-07;3190 12.10.2025\nT-08;;Oct 2025",
    ],
)
def test_shapes_of_lists(two, text):
    cells, unplaced = placed(two, text)
    assert {place: " ".join(said.split()) for place, said in cells.items()} == {
        ("T-07", "oil"): "3190 12.10.2025",
        ("T-08", "brakes"): "Oct 2025",
    }
    assert [line for line in unplaced if "What we know" not in line] == []


def test_what_cannot_be_placed_is_said_with_its_line(two, version):
    version.tasks.filter(code="oil").update(title="Check the engine oil")
    cells, unplaced = placed(
        two,
        "T-07;grease;3200\nT-99;grease;3200\nT-07;windows;3200\nT-07;check the;3200\n"
        "T-07;grease;\nT-07;grease;3100",
    )
    assert cells == {("T-07", "grease"): "3200"}
    assert unplaced == [
        "Line 2, “T-99 grease 3200”: no machine of ours is named.",
        "Line 3, “T-07 windows 3200”: T-07 has no such task.",
        "Line 4, “T-07 check the 3200”: it can be “Check the engine oil”, “Check the brakes”.",
        "Line 5, “T-07 grease”: neither hours nor a day.",
        "Line 6, “T-07 grease 3100”: it says something else than a line above.",
    ]


def test_the_same_line_twice_is_one(two):
    assert placed(two, "T-07;grease;3200\nT-07;grease;3200") == ({("T-07", "grease"): "3200"}, [])


@pytest.mark.parametrize("text", ["", "\n\n", ";;\n;;"])
def test_an_empty_list_says_nothing(two, text):
    assert placed(two, text) == ({}, [])


def test_lists_too_long_to_be_meant_are_refused():
    with pytest.raises(FleetError, match="too long"):
        rows_of("x" * (LARGEST + 1))
    with pytest.raises(FleetError, match="lines at most"):
        rows_of("a;b\n" * (MOST_ROWS + 1))


def test_a_quotation_mark_left_open_is_said(two):
    assert placed(two, '"T-07;grease;3200\nT-08;grease;3200')[0] == {}
