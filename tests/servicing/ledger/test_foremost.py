"""Which machines a report names first. Own numbers."""

from datetime import date
from decimal import Decimal as D

from servicing.ledger import foremost
from servicing.ledger.compliance import Compliance
from servicing.ledger.costs import Cost
from servicing.ledger.monthly_sheet import Expected, MachineMonth, Sheet
from servicing.ledger.outlook import Outlook
from servicing.ledger.period import Month


def sheet(*rows, ahead=()):
    return Sheet(Month(2026, 10), date(2026, 10, 31), False, rows, ahead)


def month(tag, **values):
    return MachineMonth(1, tag, "a", **values)


def tags(rows):
    return [row.tag for row in rows]


def test_undone_work_comes_before_late_work_and_a_backlog_is_undone():
    kept = sheet(
        month("A", marks=Compliance(in_time=9, carried_in=3)),
        month("B", marks=Compliance(late=4)),
        month("C", marks=Compliance(not_done=1)),
        month("D", marks=Compliance(still_open=2)),
        month("E", marks=Compliance(not_done=1, late=1)),
        month("F", marks=Compliance(late=4)),
    )
    assert tags(foremost.behind(kept)) == ["D", "E", "C", "B", "F"]


def test_the_dearest_come_first_and_what_cost_nothing_isnt_named():
    spent = sheet(
        month("A", cost=Cost(D("1.00"))),
        month("B"),
        month("C", cost=Cost(D("1.00"), D("0.01"))),
        month("D", cost=Cost(labour=D("1.00"))),
    )
    assert tags(foremost.dearest(spent)) == ["C", "A", "D"]


def test_what_is_overdue_comes_before_what_takes_long():
    ahead = [
        Expected(1, "A", "a", Outlook(D("1.0"), 600), hangs=False),
        Expected(2, "B", "a", Outlook(D("1.0"), 5, overdue=1), hangs=False),
        Expected(3, "C", "a", Outlook(), hangs=False),
        Expected(4, "D", "a", Outlook(D("3.0"), 600), hangs=False),
    ]
    assert tags(foremost.busiest(sheet(ahead=ahead))) == ["B", "D", "A"]
    assert tags(foremost.coming(sheet(ahead=ahead))) == ["A", "B", "D"]


def test_any_work_backlog_or_down_time_is_something_to_say():
    worked = sheet(
        month("A"),
        month("B", marks=Compliance(in_time=1)),
        month("C", marks=Compliance(carried_in=1)),
        month("D", marks=Compliance(still_open=1)),
        month("E", deferred=1),
        month("F", days_down=D("0.1")),
        month("G", hours=D(9), cost=Cost(D("5.00"))),
    )
    assert tags(foremost.worked_on(worked)) == ["B", "C", "D", "E", "F"]
