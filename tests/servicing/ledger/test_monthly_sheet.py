"""Totals are sums of what the rows print. Own numbers."""

from datetime import date
from decimal import Decimal as D

from servicing.ledger.compliance import Compliance
from servicing.ledger.costs import Cost
from servicing.ledger.monthly_sheet import Expected, MachineMonth, Sheet
from servicing.ledger.outlook import Outlook
from servicing.ledger.period import Month

OCTOBER = Month(2026, 10)


def sheet(*rows, until=date(2026, 10, 31), ahead=()):
    return Sheet(OCTOBER, until, until < OCTOBER.last_day, rows, ahead)


def test_totals():
    month = sheet(
        MachineMonth(
            1, "T-01", "a", D("40.5"), Cost(D("10.00"), D("20.50")), D("25.00"), D("3.1"), Compliance(2, 1, 1)
        ),
        MachineMonth(2, "T-02", "b", None, Cost(D("5.00")), None, D("0.0"), Compliance(1), 2),
        ahead=[Expected(3, "T-03", "c", Outlook(D("1.5"), 30), hangs=False)],
    )
    assert (month.hours, month.silent, month.days_down, month.deferred) == (D("40.5"), 1, D("3.1"), 2)
    assert month.cost == Cost(D("15.00"), D("20.50"))
    assert month.per_hour == D("0.88")  # 35.50 / 40.5
    assert month.marks == Compliance(3, 1, 1)
    assert month.coming == Outlook(D("1.5"), 30)
    assert month.compared == (D("30.50"), D("25.00"))  # of T-01 alone
    assert month.usable == D("95.0")  # 3.1 of 62 machine days


def test_a_running_month_counts_its_days_so_far():
    assert sheet(until=date(2026, 10, 10)).days == 10
    assert sheet(MachineMonth(1, "T", "a", days_down=D("1.0")), until=date(2026, 10, 10)).usable == 90


def test_an_empty_month_claims_nothing():
    month = sheet()
    assert (month.hours, month.per_hour, month.compared, month.usable) == (0, None, None, None)
    assert month.marks.of_due is None
