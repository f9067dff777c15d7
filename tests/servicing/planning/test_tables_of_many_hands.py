"""What goes nowhere in a table is never passed over: it is read, asked or refused.

The tables are invented. How such tables are printed is common practice; no source.
"""

import pytest

from servicing.planning import maker_table
from servicing.planning.table_marks import meaning
from servicing.planning.table_words import together


def read(text, separator="\t", answers=None):
    return maker_table.read(maker_table.cells(text.strip("\n"), separator), answers)


def rules(grid):
    """First and every hours and every months of each task's normal rule."""
    found = {}
    for task in grid.tasks:
        rule = meaning(task.marks).rules["normal"]
        found[task.title] = (rule.first_hours, rule.every_hours, rule.every_months)
    return found


def plainly(text, separator="\t"):
    grid = read(text, separator)
    assert ([str(fault) for fault in grid.faults], [str(each) for each in grid.questions]) == ([], [])
    return rules(grid)


@pytest.mark.parametrize(
    "headings",
    [
        "Task;First (h);Regular (h);or every (months)",
        "Bauteil;erstmals nach (h);danach alle (h);oder alle (Monate)",
        "Organe;Première fois (h);Puis toutes les (h);ou tous les (mois)",
        "Tarea;Primera vez (h);Luego cada (h);o cada (meses)",
        "Voce;Prima volta (h);In seguito ogni (h);oppure ogni (mesi)",
        "Onderdeel;Eerste keer (u);Daarna elke (u);of elke (maanden)",
    ],
)
def test_columns_of_bare_numbers_take_what_they_count_from_their_headings(headings):
    assert plainly(f"{headings}\nAxle oil;40;350;18\nBelt;;150;\nHose;;;36\n", ";") == {
        "Axle oil": (40, 350, 18),
        "Belt": (None, 150, None),
        "Hose": (None, None, 36),
    }


def test_bare_numbers_without_a_unit_are_asked():
    grid = read("Task\tFirst\tRegular\nAxle oil\t40\t350\n")
    assert [each.column for each in grid.open] == [2, 3]
    assert rules(grid) == {"Axle oil": (40, 350, None)}
    assert plainly("Task\tInterval\nAxle oil\t350\nBelt\t150 h\n") == {
        "Axle oil": (None, 350, None),
        "Belt": (None, 150, None),
    }
    grid = read("Task\t12\t24\nHose\t\tx\n")
    given = {each.place: "2" for each in grid.open}
    assert len(given) == 1
    assert rules(read("Task\t12\t24\nHose\t\tx\n", answers=given)) == {"Hose": (None, None, 24)}


def test_no_task_is_made_beside_a_column_that_cant_be_read():
    grid = read("Task\tevery 80 h\tGroup\nAxle oil\tx\t7\nBelt\tx\t\nHose\tx\t7\n")
    assert [(fault.row, fault.column) for fault in grid.faults] == [(1, 3)]
    assert [task.title for task in grid.tasks] == ["Belt"]


def test_what_the_legend_calls_not_due_is_not_due():
    table = "Task\tevery 80 h\tevery 320 h\n{}\nAxle oil\t✗\t✓\nBelt\t✗\t✗\n"
    grid = read(table.format("✓ = carry out, ✗ = not due"))
    assert (rules(grid), grid.faults) == ({"Axle oil": (None, 320, None)}, [])
    assert grid.headings == [(4, "Belt")]
    assert {each.row for each in read(table.format("Gearbox")).open} == {3, 4}


def test_a_row_of_dashes_is_shown_as_a_heading_and_is_no_task():
    grid = read("Task\tevery 80 h\tNote\nAxle oil\tx\t\nBooster\tn/a\tnot fitted\n")
    assert (grid.headings, grid.faults, len(grid.tasks)) == ([(3, "Booster")], [], 1)
    grid = read("Task\tevery 80 h\tNote\nAxle oil\tx\t\nBooster\tn/a\tevery 90 h\n")
    assert [(fault.row, fault.title) for fault in grid.faults] == [(3, "Booster")]


def test_cells_that_stand_below_nothing_are_asked():
    table = "Work to do   40 h   80 h   160 h\nGrease   x   x   x\nClean the sieve   x\nDrain it   x   x\n"
    assert {each.row for each in read(table).open} == {3, 4}


def test_headings_may_stand_below_each_other():
    table = "Part\nDaily\n40 h\n80 h\nPage\nAxle oil   x   -   -   .... 7\nBelt   -   -   x   .... 8\n12\n"
    assert plainly(table + "Part\nDaily\n40 h\n80 h\nPage\nHose   -   x   -   .... 9\n") == {
        "Axle oil": (None, 10, None),
        "Belt": (None, 80, None),
        "Hose": (None, 40, None),
    }
    grid = read(table + "Hose   -   x   .... 9\n")
    assert [each.title for each in grid.open] == ["Hose"]


def test_a_legend_between_title_and_headings_says_nothing_of_the_columns():
    table = "● = each time, ○ = first time only\nTask\t40 h\t80 h\nAxle oil\t○\t●\n"
    assert plainly(table) == {"Axle oil": (40, 80, None)}


def test_a_unit_or_a_multiple_over_numbers_holds_for_each_of_them():
    table = "\tHours x 10\t\t\tNOTES\nWork\t4\t8\t32\t* by the dealer\nAxle oil\t\t\tx*\t\n"
    grid = read(table)
    assert (rules(grid), grid.tasks[0].note) == ({"Axle oil": (None, 320, None)}, "by the dealer")
    table = "Task\tOperating hours\t\t\tEvery year\n\tFirst 40\tEvery 80\tEvery 320\t\nAxle oil\tx\t\tx\tx\n"
    assert plainly(table) == {"Axle oil": (40, 320, 12)}


def test_several_tasks_in_a_cell_and_acts_in_pairs_are_asked():
    grid = read("Interval\tWork\nEvery 80 h\tGrease the pins; look at the belt\n")
    assert ([task.title for task in grid.tasks], len(grid.open)) == (
        ["Grease the pins", "look at the belt"],
        1,
    )
    table = (
        "C = check, R = replace\nPart\tAction\tEvery (h)\tMonths\nBelt\tC/R\t80/640\t-/24\nHose\tC\t80\t-\n"
    )
    grid = read(table)
    assert rules(grid) == {
        "Belt: check": (None, 80, None),
        "Belt: replace": (None, 640, 24),
        "Hose: check": (None, 80, None),
    }
    assert [each.row for each in grid.open] == [3]


def test_a_footnote_counts_for_the_marks_that_name_it():
    table = "C = check, R = replace\nPart\t40 h\t320 h\nBelt\tC\tR*\n* first time at 80 h\n"
    assert plainly(table) == {"Belt: check": (None, 40, None), "Belt: replace": (80, 320, None)}
    table = "Part\t40 h\t320 h\tNote\nBelt\tx\t\tII\nHose\t\tx\tI\nNotes\nI  by the dealer\nII  dry only\n"
    assert [task.note for task in read(table).tasks] == ["dry only", "by the dealer"]


def test_a_note_with_another_interval_than_the_mark_is_asked():
    grid = read("Part\tevery 80 h\tNote\nBelt\tx\tevery 160 h\n")
    place = grid.open[0].place
    answered = read("Part\tevery 80 h\tNote\nBelt\tx\tevery 160 h\n", answers={place: "words"})
    assert (rules(grid), rules(answered)) == ({"Belt": (None, 80, None)}, {"Belt": (None, 160, None)})


def test_packages_by_ordinals_one_year_and_letters_with_words():
    table = "Part\t1st\t2nd\tYear\nBelt\tC\t\tR\nHose\t\tR\t\n1st = 40 h; 2nd = 320 h\nC check, R replace\n"
    grid = read(table)
    assert rules(grid) == {
        "Belt: check": (40, None, None),
        "Belt: replace": (None, None, 12),
        "Hose: replace": (None, 320, None),
    }
    assert [each.row for each in grid.open] == [2]


def test_a_heading_that_names_no_footnote_of_the_table_is_asked():
    assert [each.row for each in read("Part\t80 (40)\t320\nBelt\tx\t\nHose\t\tx\n").open] == [2]


def test_headings_that_come_again_are_headings_and_marks_above_them_are_refused():
    table = "Part\t80 h\t320 h\nBelt\tx\t\nPart\t80 h\t320 h\nHose\t\tx\n"
    assert plainly(table) == {"Belt": (None, 80, None), "Hose": (None, 320, None)}
    grid = read("Belt\tx\t\n" + table)
    assert [fault.row for fault in grid.faults] == [1]


def test_two_columns_that_say_another_interval_are_asked():
    table = "Part\tInterval\tInterval\nBelt\t80 h\t320 h\nHose\t\t320 h\n"
    grid = read(table)
    assert [each.row for each in grid.open] == [2]
    place = grid.open[0].place
    assert rules(read(table, answers={place: "second"}))["Belt"] == (None, 320, None)


def test_a_task_may_run_below_the_next_heading():
    table = "Task   every 80 h   every 320 h\nChange oil and                  x\n  filter\n"
    table += "Grease      x            x\n"
    assert plainly(table) == {"Change oil and filter": (None, 320, None), "Grease": (None, 80, None)}


def test_a_mark_under_no_heading_is_refused():
    grid = read("Every 80 h\nGrease pins\tx\nEvery 320 h\nChange oil\n")
    assert [(fault.row, fault.column) for fault in grid.faults] == [(2, 2)]


@pytest.mark.parametrize(
    ("before", "after", "whole"),
    [
        ("Hydrau-", "lic oil", "Hydraulic oil"),
        ("Motor-", "und Getriebeöl", "Motor- und Getriebeöl"),
        ("Check the", "belt", "Check the belt"),
        ("M10 -", "tighten", "M10 - tighten"),
    ],
)
def test_words_parted_at_the_end_of_a_line_are_one_again(before, after, whole):
    assert together(before, after) == whole


def test_the_first_time_may_stand_after_each_time_and_acts_over_their_own_column():
    assert plainly("Part\tEvery\tFirst\nBelt\t320 h\t80 h\nHose\t640 h\t\nPin\t2 years\t\n") == {
        "Belt": (80, 320, None),
        "Hose": (None, 640, None),
        "Pin": (None, None, 24),
    }
    assert plainly("Part\tCheck every\tReplace every\nBelt\t80 h\t320 h\nHose\t\t2 years\n") == {
        "Belt: check": (None, 80, None),
        "Belt: replace": (None, 320, None),
        "Hose: replace": (None, None, 24),
    }


def test_a_title_behind_a_bullet_is_a_title_and_a_note_is_no_task():
    grid = read("Every 80 h\n- Grease pins\n* Every 320 h\n- Change oil\nNote: by the dealer\n")
    assert rules(grid) == {"Grease pins": (None, 80, None), "Change oil": (None, 320, None)}
    assert [each.row for each in grid.open] == [5]


def test_pages_behind_dots_stay_pages_beside_running_heads():
    """`70-18` behind a task is a page, never every 70 h, whatever stands at a page's head or foot."""
    table = """
SERVICE GUIDE
Tarvo 300                                  Chapter 70

Every 80 Hours
 • Grease pins ......................... 70-4
 • Check hose .......................... 70-18

70-2                                       Tarvo 300

Every 320 Hours
 • Change oil .......................... 70-21
"""
    grid = read(table)
    assert ([str(each) for each in grid.faults], grid.questions) == ([], [])
    assert [(task.title, task.page) for task in grid.tasks] == [
        ("Grease pins", "70-4"),
        ("Check hose", "70-18"),
        ("Change oil", "70-21"),
    ]
    assert rules(grid)["Check hose"] == (None, 80, None)


def test_an_interval_in_merged_cells_holds_down_to_the_next_one():
    table = """
When	Part	Work	Page
Every 80 h	Pins	grease	14
	Hose	check	15
Every 320 h	Oil	change	16
	Filter	replace
"""
    assert plainly(table) == {
        "Pins: grease": (None, 80, None),
        "Hose: check": (None, 80, None),
        "Oil: change": (None, 320, None),
        "Filter: replace": (None, 320, None),
    }


LIFE = """
Part,40,80,120,160,200,240,after that
Belt,,x,,x,,x,every 80 h
Hose,,x,,x,,x,every 40 h
Cap,,,,,,,every 2 years
"""


def test_dots_of_a_life_beside_an_interval_in_words():
    grid = read(LIFE, ",")
    assert grid.faults == []
    assert [str(each) for each in grid.open] == [
        "Row 3 (Hose), column 3 (80): The dots say every 80 h, the words every 40 h. Which holds?"
    ]
    found = rules(grid)
    assert (found["Belt"], found["Cap"]) == ((None, 80, None), (None, None, 24))
    place, digest = grid.open[0].place, grid.open[0].digest
    for code, hours in (("dots", 80), ("words", 40)):
        answered = read(LIFE, ",", {place: f"{digest}-{code}"})
        assert rules(answered)["Hose"] == (None, hours, None)
