"""What a month's report says. Own numbers."""

from dataclasses import replace
from datetime import date
from decimal import Decimal as D
from types import SimpleNamespace

import pytest

from servicing.ledger.compliance import Compliance
from servicing.ledger.costs import Cost
from servicing.ledger.monthly_sheet import Expected, MachineMonth, Sheet
from servicing.ledger.outlook import Outlook
from servicing.ledger.period import Month
from servicing.reports import wording

FARM = SimpleNamespace(name="Alder Farm", currency="EUR")
TODAY = date(2026, 11, 20)


def month(*rows, ahead=(), until=date(2026, 10, 31)):
    return Sheet(Month(2026, 10), until, until.day < 31, rows, ahead)


def row(**values):
    return MachineMonth(1, "T-01", "a", **values)


def plain(text):
    return text.replace("\xa0", " ").replace("\u202f", " ")


@pytest.mark.parametrize(
    ("marks", "share", "said"),
    [
        (Compliance(), "–", "No task fell due."),
        (Compliance(in_time=1), "100.0 %", "1 of 1 task done in time."),
        (Compliance(in_time=3, late=1), "75.0 %", "3 of 4 tasks done in time, 1 late."),
        (
            Compliance(not_done=2, still_open=1),
            "0.0 %",
            "0 of 2 tasks done in time, 2 not done by the end of the month. Backlog: 0 done, 1 still open.",
        ),
    ],
)
def test_whether_we_keep_up(marks, share, said):
    answer = wording.kept(month(row(marks=marks)))
    assert plain(answer.figure) == share
    assert plain(answer.more) == f"{said} Down time 0.0 days, availability 100.0 %."


def test_a_running_month_says_so_and_not_done_is_not_yet():
    running = month(row(marks=Compliance(not_done=1), deferred=1), until=date(2026, 10, 9))
    assert wording.title(running) == "October 2026 so far"
    assert plain(wording.ran(running)) == "1 machine, 0.0 h run, up to 9 October."
    assert "1 not done yet. 1 line deferred." in plain(wording.kept(running).more)
    assert wording.title(month()) == "October 2026"
    assert wording.ran(month()) == "No machine was in service."


def test_what_it_cost_an_hour_is_said_where_hours_ran():
    spent = wording.spent(month(row(hours=D("1040.5"), cost=Cost(D("12345.60"), D("0.40")))), FARM)
    assert plain(spent.figure) == "12 346.00 EUR"
    assert plain(spent.more) == "1 040.5 h run, so 11.87 EUR an hour. Parts 12 345.60, labour 0.40."
    assert plain(wording.spent(month(row()), FARM).more) == "Parts 0.00, labour 0.00."


@pytest.mark.parametrize(
    ("lacking", "said"),
    [
        ({}, ""),
        ({"unpriced": 1}, "Not in the cost: 1 part without a price."),
        ({"unrated": 2}, "Not in the cost: 2 labour entries without an hourly rate."),
        ({"unpriced": 2, "untimed": 1}, "Not in the cost: 2 parts without a price and 1 order without time."),
        (
            {"unpriced": 1, "unrated": 1, "untimed": 2},
            "Not in the cost: 1 part without a price, 1 labour entry without an hourly rate "
            "and 2 orders without time.",
        ),
    ],
)
def test_what_the_cost_lacks(lacking, said):
    cost = replace(Cost(D("1.00")), **lacking)
    assert plain(wording.lacks(cost)) == said
    assert plain(wording.spent(month(row(cost=cost)), FARM).more).endswith(said)


def test_what_comes():
    ahead = Outlook(D("2.4"), 95, D(1234), overdue=1, untimed=1, unpriced=2)
    coming = wording.expected(month(ahead=[Expected(1, "T-01", "a", ahead, hangs=False)]), FARM, TODAY)
    assert (plain(coming.figure), coming.name) == ("About 2 tasks", "from 20 November")
    assert plain(coming.more) == (
        "1 h 35 min of labour, 1 234 EUR of supplies. 1 task is overdue today. "
        "Not in the labour time: 1 task without minutes. "
        "Not in the cost of supplies: 2 supplies without a price."
    )
    assert wording.expected(month(), FARM, TODAY).more == "Nothing is likely to fall due."
    one = replace(ahead, jobs=D("0.6"), overdue=2)
    coming = wording.expected(month(ahead=[Expected(1, "T-01", "a", one, hangs=False)]), FARM, TODAY)
    assert plain(coming.figure) == "About 1 task"
    assert "2 tasks are overdue today." in plain(coming.more)


def test_what_was_never_entered_is_no_nought():
    assert wording.labour(Outlook(D(1), 0, untimed=1)) == wording.supplies(Outlook(D(1), unpriced=1))
    assert wording.labour(Outlook(D(1), 0, untimed=1)) == "not entered"
    assert plain(wording.labour(Outlook(D(1), 5, untimed=1))) == "5 min"
    assert (plain(wording.labour(Outlook())), wording.supplies(Outlook())) == ("0 min", "0")


def test_hours_that_stand_nowhere_are_said():
    assert wording.hours_left_out(month(row(hours=D(1)))) == ""
    said = plain(wording.hours_left_out(month(row(), row(hours=D(1), hangs=True))))
    assert said.startswith("No hours for 1 machine: too few readings. An attachment counts")
    assert said.endswith("the total leaves out 1 attachment.")


def test_the_share_of_what_was_done_is_named_where_anything_was():
    assert "it would be 75.0 %" in plain(wording.how_counted(month(row(marks=Compliance(3, 1, 4))))[0])
    assert "it would be" not in wording.how_counted(month())[0]
