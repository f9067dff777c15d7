"""Tasks typed one a line, keys of interval codes, acts beside intervals, columns found by their blanks.

How people type and makers print is common practice; no source.
"""

import pytest

from servicing.planning import maker_table
from servicing.planning.table_marks import meaning


def read(text, answers=None):
    return maker_table.read(maker_table.cells(text), answers)


def rules(grid):
    """Each task's interval by its title: first hours, hours, months."""
    found = {}
    for task in grid.tasks:
        rule = meaning(task.marks).rules["normal"] if task.marks else None
        hours = rule and (rule.first_hours, rule.every_hours, rule.every_months)
        found[task.title] = hours or task.when
    return found


def test_a_bullet_with_a_tab_behind_it_parts_no_cells():
    grid = read("•\tChange oil - every 500 h\n•\tGrease pins - daily\n")
    assert rules(grid) == {"Change oil": (None, 500, None), "Grease pins": (None, 10, None)}
    assert [*grid.questions, *grid.faults] == []


@pytest.mark.parametrize(
    ("line", "title", "rule", "page", "note"),
    [
        ("Coolant - every 2 years, p. 12", "Coolant", (None, None, 24), "12", ""),
        ("500 h or 1 year: change coolant (9 l)", "change coolant", (None, 500, 12), "", "9 l"),
        ("Coolant hoses 1st 50 h then 500 h p40", "Coolant hoses", (50, 500, None), "40", ""),
        ("Kühlmittel alle 2 Jahre ersetzen, S. 9", "Kühlmittel ersetzen", (None, None, 24), "9", ""),
        ("Remplir le circuit à 50 h", "Remplir le circuit", (None, 50, None), "", ""),
        ("2) Tensar la correa (cada 100 h)", "Tensar la correa", (None, 100, None), "", ""),
        ("[ ] Olio cambio: ogni 1000 ore o annuale", "Olio cambio", (None, 1000, 12), "", ""),
        ("– Riem, elke 250 uur – blz. 7", "Riem", (None, 250, None), "7", ""),
        ("Filter 1000 hrs or 12 months whichever first", "Filter", (None, 1000, 12), "", ""),
    ],
)
def test_a_line_holds_a_task_its_interval_page_and_note(line, title, rule, page, note):
    grid = read(f"Check oil: daily\n{line}\n")
    task = grid.tasks[1]
    assert (task.title, rules(grid)[title], task.page, task.note) == (title, rule, page, note)
    assert [*grid.questions, *grid.faults] == []


@pytest.mark.parametrize(
    "line",
    [
        "Coolant - every 500-600 h",
        "Coolant - 24",
        "Coolant - 500 h?",
        "Coolant - 500 h, 12",  # a page, or months?
        "Coolant: check daily and replace 500 h",
        "Charge battery for 4 h every 3 months",
        "Every 500 h: coolant, hoses, belts",
        "- Coolant",
        "Coolant every second oil change",
    ],
)
def test_a_line_that_can_be_read_in_two_ways_is_asked(line):
    grid = read(f"Check oil: daily\nGrease pins: weekly or 50 h\n{line}\n")
    last = max(number for number, *_cells in enumerate(maker_table.cells(f"a: daily\nb: daily\n{line}\n"), 1))
    assert last in {question.row for question in grid.questions}
    assert not grid.faults


def test_the_first_time_below_a_title_stands_beside_each_time():
    grid = read("Every 500 h:\n- fuel filter\n- return filter, first at 50 h\n- belt: 100 h\n")
    assert rules(grid)["return filter"] == (50, 500, None)


def test_hours_for_wet_work_behind_an_interval_make_it_no_first_time():
    grid = read("Task\tInterval\nBogie oil\t1500 h (every 750 h in wet)\n")
    said = meaning(grid.tasks[0].marks).rules
    assert (said["normal"].first_hours, said["normal"].every_hours) == (None, 1500)
    assert said["wet"].every_hours == 750


def test_a_list_of_lines_is_no_file_of_cells():
    assert maker_table.stands_in_columns("Change oil - every 500 h, p. 3\nGrease, daily, 2 points\n")
    assert not maker_table.stands_in_columns("Task,Interval,Page\nChange oil,500 h,3\nGrease,daily,4\n")
    assert not maker_table.stands_in_columns("Task;Interval\nChange oil;500 h\nGrease;daily\n")


@pytest.mark.parametrize("sign", [" = ", ": ", " ", " - "])
def test_a_key_of_codes_may_stand_above_or_below_with_any_sign(sign):
    key = "   ".join(f"{code}{sign}{said}" for code, said in (("A", "daily"), ("B", "250 h or yearly")))
    table = "Job\tCode\nCheck oil\tA\nChange oil\tB\n"
    for text in (f"{key}\n{table}", f"{table}{key}\n"):
        grid = read(text)
        assert rules(grid) == {"Check oil": (None, 10, None), "Change oil": (None, 250, 12)}
        assert [*grid.questions, *grid.faults] == []


def test_a_key_may_name_the_code_behind_its_interval():
    grid = read("Every 10 h: A; every 250 h: B\nJob\tCode\nCheck oil\tA\nChange oil\tB\n")
    assert rules(grid) == {"Check oil": (None, 10, None), "Change oil": (None, 250, None)}


def test_a_code_without_a_key_is_asked():
    grid = read("Job\tCode\nCheck oil\tA\nChange oil\tB\nBelt\tF\nA = daily\nB = 250 h\n")
    assert [question.row for question in grid.questions] == [4]


def test_an_act_by_two_people_stays_two_tasks():
    grid = read("Item\tOperator\tDealer\nOil\tcheck 10 h\tcheck 250 h\nBelt\tcheck 50 h\tchange 500 h\n")
    assert rules(grid)["Oil: check"] == (None, 10, None)
    assert rules(grid)["Oil: check (Dealer)"] == (None, 250, None)


def test_pages_like_g_11_are_no_acts():
    grid = read("Part\tPage\tWork\nOil\tG-11\tchange every 250 h\nFilter\tG-12\tclean 50 h; replace 500 h\n")
    assert [(task.title, task.page) for task in grid.tasks] == [
        ("Oil: change", "G-11"),
        ("Filter: clean", "G-12"),
        ("Filter: replace", "G-12"),
    ]


def test_marks_that_all_stand_beyond_their_headings_are_asked():
    table = (
        "Task           50 h   100 h   250 h\n"
        "Oil                   x\n"
        "Filter                        x\n"
        "Belt                                  x\n"
    )
    grid = read(table)
    assert {question.row for question in grid.questions} == {2, 3, 4}


def test_two_marks_parted_by_one_blank_stand_below_two_headings():
    grid = read(
        "Point          10h 50h 250h\n"
        "Oil level      x   x   x\n"
        "Nipples            x   x\n"
        "Oil                    x\n"
    )  # fmt: skip
    assert rules(grid) == {
        "Oil level": (None, 10, None),
        "Nipples": (None, 50, None),
        "Oil": (None, 250, None),
    }


def test_a_twin_whose_answer_left_out_the_first_is_read_by_itself():
    table = "Part\tJob\tInterval\nAxle\tcheck\t50 h\nAxle\tcheck\t100 h\nAxle\tcheck\t200 h\n"
    place = read(table).questions[0].place
    assert read(table, {place: "leave"}).questions
