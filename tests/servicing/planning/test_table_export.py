"""A program drawn as a table: the headings in words, and the way back."""

from decimal import Decimal as D

from servicing.planning import maker_table
from servicing.planning.intervals import Rule
from servicing.planning.table_export import Drawn, draw
from servicing.planning.table_marks import meaning

TASKS = [
    Drawn("Oil", "4-1", "", {"normal": Rule(first_hours=D(50), every_hours=D("100.00"), every_months=12)}),
    Drawn("Coolant", "", "Drain cold", {"normal": Rule(every_months=24)}),
    Drawn("Seals", "", "", {"normal": Rule(every_months=1), "dust": Rule(every_hours=D("12.5"))}),
    Drawn("Belt", "", "", {"normal": Rule(first_months=3, every_months=18)}),
]


def test_headings_stand_in_order_and_in_words():
    assert draw(TASKS)[0] == [
        *("Task", "first 50 h", "every 100 h", "first 3 months"),
        *("every 1 month", "every 1 year", "every 18 months", "every 2 years"),
        *("dust: every 12.5 h", "Page", "Note"),
    ]


def test_what_is_drawn_is_read_again():
    found = maker_table.read(draw(TASKS))
    assert found.faults == []
    assert [(task.title, task.page) for task in found.tasks] == [(task.title, task.page) for task in TASKS]
    read = [meaning(task.marks).rules for task in found.tasks]
    assert [rules["normal"] for rules in read] == [task.rules["normal"] for task in TASKS]
    assert read[2]["dust"].every_hours == D("12.5")
