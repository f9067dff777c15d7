"""Maker's tables as printed and copied: legends, sections, life tables, footnotes, blanks; and what is asked.

The tables are invented. How such tables are printed is common practice; no source.
"""

from decimal import Decimal

import pytest

from servicing.planning import maker_table
from servicing.planning.table_columns import columns_of, stands_in_columns
from servicing.planning.table_marks import meaning
from servicing.planning.table_specs import limits_in


def read(text, answers=None, separator="\t"):
    return maker_table.read(maker_table.cells(text.strip("\n"), separator), answers)


def hours(grid):
    """First and every hours of each task, months after them where there are any."""
    found = {}
    for task in grid.tasks:
        rules = meaning(task.marks).rules
        said = [
            [condition, each.first_hours, each.every_hours, each.every_months]
            for condition, each in rules.items()
        ]
        found[task.title] = said[0][1:] if len(said) == 1 else said
    return found


def plainly(text, separator="\t"):
    grid = read(text, separator=separator)
    assert ([str(fault) for fault in grid.faults], [str(each) for each in grid.questions]) == ([], [])
    return hours(grid)


def asked(text, answers=None):
    return [(each.place, each.sentence) for each in read(text, answers).questions]


def test_the_same_sign_means_what_the_legend_says():
    table = (
        "Legenda: ○ controllare   ● sostituire\n\tOgni giorno\tPrime 50 ore\tOgni 250 ore\nOlio\t○\t●\t●\n"
    )
    assert plainly(table) == {"Olio: controllare": [None, 10, None], "Olio: sostituire": [50, 250, None]}
    table = "Item\tevery 100 h\tevery 500 h\nAir filter\tC\tC/R\nC = check, R = replace\n"
    assert plainly(table) == {
        "Air filter: check": [None, 100, None],
        "Air filter: replace": [None, 500, None],
    }
    table = "Item\tevery 100 h\tevery 500 h\nOil\t○\t●\n● = each time, ○ = first time only\n"
    assert plainly(table) == {"Oil": [100, 500, None]}


def test_the_only_sign_of_a_row_under_every_means_every():
    table = "Task\tevery 100 h\tevery 500 h\nOil\t●\t\nBelt\t\t○\n"
    assert plainly(table) == {"Oil": [None, 100, None], "Belt": [None, 500, None]}


@pytest.mark.parametrize(
    ("cells", "sentence"),
    [
        ("○\t●", "No legend says what “○” means: the first time only, a check, or each time?"),
        ("o\tx", "No legend says what “o” means: the first time only, a check, or each time?"),
        ("C\tC", "No legend says what “C” means."),
        ("▲\t▲", "No legend says what “▲” means."),
        ("■\t●", "No legend says what “■” means."),
    ],
)
def test_a_sign_that_no_legend_explains_is_asked(cells, sentence):
    questions = asked(f"Task\tevery 100 h\tevery 500 h\nOil\t{cells}\n")
    assert questions[0] == ("2.2", sentence)


def test_intervals_as_titles_and_the_same_task_under_two():
    table = (
        "After the first 50 hours\n- Change oil (page 34)\n"
        "Every 200 hours or annually\n- Change oil (page 34)\n- Check belt\n"
    )
    grid = read(table)
    assert (grid.faults, grid.questions) == ([], [])
    assert hours(grid) == {"Change oil": [50, 200, 12], "Check belt": [None, 200, 12]}
    assert grid.tasks[0].page == "34"


def test_an_interval_that_cannot_be_read_ends_the_section_before_it():
    grid = read("Every 50 hours\n- Grease pins\nEvery 2nd oil change\n- Replace filter\n")
    assert hours(grid)["Grease pins"] == [None, 50, None]
    (question,) = grid.questions
    assert (question.row, question.title) == (4, "Replace filter")


def test_an_interval_and_its_task_on_one_line():
    table = "Daily: check the oil level\nEvery 50 hours: grease the pins\n"
    assert plainly(table) == {"check the oil level": [None, 10, None], "grease the pins": [None, 50, None]}


LIFE = "Task\t" + "\t".join(str(50 * step) for step in range(1, 13))


@pytest.mark.parametrize(
    ("dots", "expected"),
    [
        ((50, 250, 450), [50, 200, None]),
        ((50, 100, 200, 300, 400, 500, 600), [50, 100, None]),
        ((100, 200, 300, 400, 500, 600), [None, 100, None]),
        ((300, 600), [None, 300, None]),
        ((50,), [50, None, None]),
        ((50, 300, 550), [50, 250, None]),
    ],
)
def test_a_life_table_has_a_dot_at_each_hour(dots, expected):
    row = "\t".join("●" if 50 * step in dots else "" for step in range(1, 13))
    every = "\t".join("●" for _ in range(12))
    assert plainly(f"{LIFE}\nGrease\t{every}\nOil\t{row}\n")["Oil"] == expected


@pytest.mark.parametrize("dots", [(50, 200, 250), (500,)])
def test_a_life_without_an_even_line_is_asked(dots):
    row = "\t".join("●" if 50 * step in dots else "" for step in range(1, 13))
    every = "\t".join("●" for _ in range(12))
    assert len(asked(f"{LIFE}\nGrease\t{every}\nOil\t{row}\n")) == 1


def test_dots_off_the_line_that_is_counted_here_are_told():
    every = "\t".join("●" for _ in range(12))
    row = "\t".join("●" if 50 * step in (50, 250, 450) else "" for step in range(1, 13))
    oil = read(f"{LIFE}\nGrease\t{every}\nOil\t{row}\n").tasks[1]
    assert oil.remarks == ("Marked at 50, 250, 450 h; counted on here from the multiples of 200 h.",)


def test_footnotes_become_conditions_and_stay_as_words():
    table = (
        "Task\tevery 100 h\tevery 2 years¹\nClean filter*\tx\t\nCoolant\t\tx\nCab filter²\tx\t\n"
        "* In dusty conditions every 50 h.\n¹ use the maker's coolant\n² machines with cab only\n"
    )
    grid = read(table)
    assert (grid.faults, grid.questions) == ([], [])
    assert hours(grid)["Clean filter"] == [["normal", None, 100, None], ["dust", None, 50, None]]
    assert [task.note for task in grid.tasks] == [
        "In dusty conditions every 50 h.",
        "use the maker's coolant",
        "machines with cab only",
    ]


def test_a_footnote_of_a_mark_can_say_first_time_only():
    assert plainly("Task\t50 h\t250 h\nOil\tx (1)\tx\n(1) first 50 hours only\n") == {"Oil": [50, 250, None]}


def test_a_footnote_for_another_act_is_asked():
    table = "Task\tevery 500 h\nReplace filter*\tx\n* In dusty conditions clean every 50 h.\n"
    assert asked(table) == [
        ("2.1", "“In dusty conditions clean every 50 h.”: does it count as an interval, or stay as words?")
    ]


def test_words_of_no_task_are_asked_and_never_dropped():
    table = "Task\tevery 100 h\nOil\tx\nIn dusty conditions halve all intervals.\n"
    ((place, sentence),) = asked(table)
    assert sentence == "No task refers to these words. Do they belong to every task?"
    assert read(table, {place: "all"}).tasks[0].note == "In dusty conditions halve all intervals."
    left = read(table, {place: "leave"})
    assert (left.open, left.words) == ([], [(3, "In dusty conditions halve all intervals.")])


def test_acts_as_headings_and_items_over_merged_rows():
    table = "Component\tCheck\tReplace\tRemark\nCoolant\tevery 50 h\tevery 2 years\tno water\n"
    assert plainly(table) == {"Coolant: Check": [None, 50, None], "Coolant: Replace": [None, None, 24]}
    table = "Item\tWork\tevery 100 h\tevery 500 h\nOil\tcheck\tx\t\n\tchange\t\tx\n"
    assert plainly(table) == {"Oil: check": [None, 100, None], "Oil: change": [None, 500, None]}


def test_figures_in_columns_of_units_and_of_first_and_then():
    assert plainly("Task\tHours\tMonths\nOil\t250\t12\nFluid\t\t24\n") == {
        "Oil": [None, 250, 12],
        "Fluid": [None, None, 24],
    }
    table = "Task;First at (h);Then every (h);Torque\nWheel nuts;5;50;210 N·m ± 10\nHead;50;;95 Nm\n"
    grid = read(table, separator=";")
    assert hours(grid) == {"Wheel nuts": [5, 50, None], "Head": [50, None, None]}
    assert grid.tasks[0].note == "Torque: 210 N·m ± 10"


def test_service_packages_that_a_sentence_explains():
    table = "Job\tA\tB\nOil\tx\tx\nFilter\t\tx\nService A: every 250 h. Service B: every 500 h.\n"
    assert plainly(table) == {"Oil": [None, 250, None], "Filter": [None, 500, None]}


def test_columns_for_conditions_and_hard_use():
    table = "Job\tNormal use\tDusty conditions\nFilter\t100 h\t25 h\nBelt\t200 h\t-\n"
    assert plainly(table)["Filter"] == [["normal", None, 100, None], ["dust", None, 25, None]]
    table = "Job\tInterval\tSevere conditions\nFilter\t100 h\t25 h\n"
    ((_place, sentence),) = asked(table)
    assert sentence == "“Severe conditions” over it: It names hard use. Is that dust, or heavy work?"


def test_one_title_in_two_sections_is_asked_and_answered():
    table = "Task\t100 h\t200 h\nENGINE\nCheck belt\tx\t\nELECTRICAL\nCheck belt\t\tx\n"
    (question,) = read(table).questions
    assert (question.row, question.also, question.choices[0].code) == (5, (3,), "apart")
    assert hours(read(table, {question.place: "one"})) == {"Check belt": [None, 100, None]}
    assert list(hours(read(table, {question.place: "apart"}))) == [
        "Check belt (ENGINE)",
        "Check belt (ELECTRICAL)",
    ]
    assert read(table, {question.place: "leave"}).tasks == []


def test_words_against_the_mark_are_asked():
    table = "Task\tevery 100 h\tevery 200 h\nClean filter (every 100 h)\t\tx\n"
    (question,) = read(table).questions
    assert question.sentence == "Its words say “every 100 h”, its mark says otherwise. Which is right?"
    assert hours(read(table, {question.place: "words"})) == {"Clean filter (every 100 h)": [None, 100, None]}


def test_a_task_without_a_mark_is_asked():
    table = "Task\tevery 100 h\nENGINE\t\nCheck oil\tx\nChange filter\t\nClean cab\tx\n"
    assert asked(table) == [("4.1", "Nothing is marked. Is it the title of a section, or is a mark missing?")]


def test_an_answer_holds_for_the_words_it_was_given_to():
    table = "Task\tInterval\nHoses\t200-250 h\n"
    (question,) = read(table).questions
    given = {question.place: f"{question.digest}-2"}
    assert (read(table, given).open, hours(read(table, given))) == ([], {"Hoses": [None, 250, None]})
    assert len(read(table.replace("250", "260"), given).open) == 1
    assert read(table, {question.place: "leave"}).tasks == []


def test_what_reads_the_same_has_one_signature():
    grid = read("Task\tInterval\nHoses\t200-250 h\nBelts\t200-250 h\nPins\t10-20 h\n")
    signatures = [question.signature for question in grid.questions]
    assert signatures[0] == signatures[1] != signatures[2]


PRINTED = """
                                        First    Every    Every
Service item                              50      100     500 h    Ref.
                                        hours    hours   or 1 year
Change engine oil and engine oil          •                 •      4-3
  filter
Clean primary air cleaner element                  •*              4-5
* Every 25 hours when working in dust.
"""


def test_text_from_a_document_by_its_blanks_with_wrapped_lines():
    assert stands_in_columns(PRINTED)
    found = plainly(PRINTED)
    assert found["Change engine oil and engine oil filter"] == [50, 500, 12]
    assert found["Clean primary air cleaner element"] == [
        ["normal", None, 100, None],
        ["dust", None, 25, None],
    ]


def test_columns_lost_in_copying_are_asked():
    table = "Inspection point 50 h 200 h 400 h\nWheel bolts x x x\nEngine oil x\n"
    grid = read(table)
    assert hours(grid)["Wheel bolts"] == [None, 50, None]
    (question,) = grid.questions
    assert [choice.code for choice in question.choices] == ["2", "3", "4", "leave"]
    assert hours(read(table, {question.place: "3"}))["Engine oil"] == [None, 200, None]


def test_a_line_without_columns_stays_as_it_is():
    assert columns_of(["Every 50 hours", "- Grease the pins of the", "  front axle"]) == [
        ["Every 50 hours"],
        ["- Grease the pins of the front axle"],
    ]


def test_several_tasks_in_one_cell_are_asked():
    table = 'Interval\tWork\nevery 100 h\t"Check oil\nClean filter (if fitted)"\n'
    (question,) = read(table).questions
    assert question.sentence == "The cell has several lines. Is each a task?"
    assert hours(read(table, {question.place: "several"})) == {
        "Check oil": [None, 100, None],
        "Clean filter (if fitted)": [None, 100, None],
    }


def test_an_interval_stands_for_the_rows_that_were_merged_with_it():
    table = "Interval\tWork\nEvery 50 h\tGrease pins\n\tCheck tyres\nEvery 100 h\tChange oil\n"
    assert plainly(table) == {
        "Grease pins": [None, 50, None],
        "Check tyres": [None, 50, None],
        "Change oil": [None, 100, None],
    }


def test_what_is_too_long_to_keep_is_refused():
    grid = read(f"Task\tInterval\nOil\t{'very often ' * 30}\n", {"2.2": "words"})
    assert grid.faults[0].sentence.endswith("is too long: at most 200 characters")
    assert grid.tasks == []


@pytest.mark.parametrize(
    ("words", "limits"),
    [
        ("85–95 N·m", [("85", "95", "N·m")]),
        ("190-210 Nm", [("190", "210", "Nm")]),
        ("10 ± 2 mm", [("8", "12", "mm")]),
        ("210 N·m ± 10 N·m", [("200", "220", "N·m")]),
        ("0,20 bis 0,30 mm", [("0.20", "0.30", "mm")]),
        ("max. 5 bar", [(None, "5", "bar")]),
        ("mindestens 12,4 V", [("12.4", None, "V")]),
        ("7,5 l", []),
        ("5-7 L", []),
        ("0,25 mm", []),
        ("95-85 Nm", []),
        ("page 5-12", []),
    ],
)
def test_limits_in_a_specification(words, limits):
    found = [(each.lower, each.upper, each.unit) for each in limits_in(words)]
    expected = [(low and Decimal(low), high and Decimal(high), unit) for low, high, unit in limits]
    assert found == expected


def test_a_specification_is_measured_on_a_yes_only():
    table = "Task\tInterval\tTorque\nWheel nuts\tevery 100 h\t190-210 Nm\n"
    grid = read(table)
    (offer,) = grid.offers
    assert (grid.tasks[0].note, grid.tasks[0].measured, offer.taken) == ("Torque: 190-210 Nm", (), False)
    assert len(read(table, {offer.place: f"{offer.digest}-yes"}).tasks[0].measured) == 1
    assert read(table, {offer.place: "00000000-yes"}).tasks[0].measured == ()


def test_dotted_leaders_and_headings_of_two_lines():
    table = "Check oil level ........ daily\nChange oil ........ every 250 h\nClean filter .... every 100 h\n"
    assert plainly(table)["Change oil"] == [None, 250, None]
    table = "Item\t50\t250\n\t1 month\t6 months\nOil\t\tR\nBelt\tI\tI\nI = Inspect, R = Replace\n"
    assert plainly(table) == {"Oil: Replace": [None, 250, 6], "Belt: Inspect": [None, 50, 1]}


def test_a_band_over_several_columns_says_first_time():
    table = (
        "\tInitial service\t\tPeriodic service\t\nTask\t10 h\t50 h\t100 h\t250 h\n"
        "Oil\t\tx\t\tx\nNuts\tx\t\tx\t\n"
    )
    assert plainly(table) == {"Oil": [50, 250, None], "Nuts": [10, 100, None]}


def test_a_note_on_a_heading_holds_for_its_marks():
    table = "Task\t50 h*\t100 h\nOil\t●\t\nBelt\t●\t●\n* first service only\n"
    assert plainly(table) == {"Oil": [50, None, None], "Belt": [50, 100, None]}


def test_words_without_a_heading_stay_on_the_task():
    grid = read("Task\tevery 100 h\t\nOil\tx\tonly in the workshop\nBelt\tx\t\n")
    assert [task.note for task in grid.tasks] == ["only in the workshop", ""]


def test_two_columns_of_which_nobody_can_say_when_they_hold_are_refused():
    grid = read("Task\tInterval\tBanana use\nOil\t100 h\t50 h\nBelt\t200 h\t100 h\n")
    assert [(fault.row, fault.column) for fault in grid.faults] == [(1, 3)]


def test_a_number_too_small_for_hours_is_asked():
    assert asked("Task\t1\t2\nOil\tx\t\n") == [
        ("2.2", "“1” over it: The number has no unit. Are these hours, months or years?")
    ]


def test_a_page_beside_a_task_is_no_interval():
    table = "Every 50 hours\nGrease the axle\tp. 15\nEvery 250 hours\nChange oil\tS. 16\n"
    grid = read(table)
    assert (grid.faults, grid.questions) == ([], [])
    assert hours(grid) == {"Grease the axle": [None, 50, None], "Change oil": [None, 250, None]}
    assert [task.page for task in grid.tasks] == ["p. 15", "S. 16"]
