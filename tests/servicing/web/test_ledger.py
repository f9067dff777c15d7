"""The ledger's page and its file tell the same story."""

import csv
import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal as D

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models import Mounting
from servicing.models import Labour, PartUsed, SupplyNeed
from tests.factories import (
    DutyFactory,
    LineFactory,
    MachineFactory,
    PartFactory,
    ReadingFactory,
    TechnicianFactory,
    WorkOrderFactory,
)

NOW = datetime(2026, 11, 20, 9, 0, tzinfo=UTC)
pytestmark = pytest.mark.time_machine(NOW, tick=False)


def at(month, day, hour=12):
    return datetime(2026, month, day, hour, tzinfo=UTC)


def worked_machine(house, tag, hours, **values):
    """A machine that ran `hours` in October: one service done in time, one standing, and its costs."""
    machine = house.machine(tag=tag, hours=D(100) + hours, hours_at=NOW, **values)
    ReadingFactory(machine=machine, taken_at=datetime(2026, 9, 30, 22, tzinfo=UTC), shows=D(100))
    ReadingFactory(machine=machine, taken_at=datetime(2026, 10, 31, 23, tzinfo=UTC), shows=D(100) + hours)
    order = WorkOrderFactory(
        machine=machine,
        state="closed",
        started_at=at(10, 11),
        closed_at=at(10, 12),
        closed_by=house.manager,
        hours_at_close=D(110),
    )
    soon = NOW.date() + timedelta(days=20)
    done = DutyFactory(
        machine=machine, mark_hours=D(9000), task__minutes=90, early=soon, likely=soon, late=soon
    )
    LineFactory(
        order=order, duty=done, task=done.task, open=False, outcome="done", mark_hours=D(120),
        done_hours=D(110), done_on=date(2026, 10, 12),
    )  # fmt: skip
    DutyFactory(machine=machine, mark_hours=D(101), early=None, likely=None, late=None)
    owner = {"organisation": house.organisation}
    part = PartFactory(organisation=house.organisation, unit_cost=D(30))
    SupplyNeed(task=done.task, part=part, quantity=D(2), **owner).save()
    PartUsed(order=order, part=part, quantity=D("1.5"), unit_cost=D("1000.01"), **owner).save()
    technician = TechnicianFactory(member__organisation=house.organisation)
    Labour(order=order, technician=technician, minutes=50, hourly_rate=D(41), **owner).save()
    return machine


def page(house, role="owner", **asked):
    answer = house.client(role).get("/ledger/", asked)
    assert answer.status_code == 200
    return answer.content.decode().replace("\xa0", " ").replace("\u202f", " ")


def file(house, **asked):
    answer = house.client("owner").get("/ledger/", {"format": "csv", **asked})
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    return answer, list(csv.DictReader(answer.content.decode("utf-8-sig").splitlines()))


def cells(html, heading):
    """The rows of the table that is folded away under it: {machine: {column: figure}}, without grouping."""
    table = html.split(f"<summary>{heading}</summary>")[1].split("</table>")[0]
    plain = [[_plain(cell) for cell in re.split(r"</t[hd]>", line)[:-1]] for line in table.split("<tr>")[1:]]
    columns, *lines = plain
    return {name: dict(zip(columns[1:], figures, strict=True)) for name, *figures in lines}


def _plain(cell):
    text = re.sub(r"<[^>]+>", "", cell).strip()
    return text.replace(" ", "") if re.fullmatch(r"[\d .]+", text) else text


def question(html, asked):
    """What stands below a question of the page."""
    return html.split(f">{asked}</h2>")[1].split("</section>")[0]


def test_the_questions_are_answered_first_with_the_share_and_its_denominator(farm):
    worked_machine(farm, "T-01", D(40))
    html = page(farm)
    assert "<h1>October 2026</h1>" in html
    assert "1 machine, 40.0 h run." in html
    kept = question(html, "Are we keeping up?")
    assert '<span class="figure">50.0 %</span> <span class="quiet">schedule compliance</span>' in kept
    assert "1 of 2 tasks done in time, 1 not done by the end of the month." in kept
    assert "Down time 1.0 days, availability 96.8 %." in kept  # 1 day down of 31
    spent = question(html, "What did it cost?")
    assert '<span class="figure">1 534.19 EUR</span>' in spent
    assert "40.0 h run, so 38.35 EUR an hour. Parts 1 500.02, labour 34.17." in spent
    ahead = question(html, "What comes in 60 days?")
    assert '<span class="figure">About 2 tasks</span> <span class="quiet">from 20 November</span>' in ahead
    assert "1 task is overdue today." in ahead
    places = [html.index(each) for each in (kept, spent, ahead, "<summary>Work by machine</summary>")]
    assert places == sorted(places)


def test_five_machines_stand_first_and_all_of_them_behind(farm):
    for number in range(7):
        worked_machine(farm, f"T-0{number}", D(40))
    html = page(farm)
    for asked, said in {
        "Are we keeping up?": "5 of 7 machines with undone or late work.",
        "What did it cost?": "5 of 7 machines, highest cost first.",
        "What comes in 60 days?": "5 of 7 machines, overdue and most labour first.",
    }.items():
        shown = question(html, asked)
        assert said in shown
        assert re.findall(r">(T-0\d)<", shown) == ["T-00", "T-01", "T-02", "T-03", "T-04"]
    for heading in ("Work by machine", "Hours and cost by machine", "The next 60 days by machine"):
        assert [*cells(html, heading)] == [*(f"T-0{number}" for number in range(7)), "All machines"]


def test_file_equals_the_page(farm):
    worked_machine(farm, "T-01", D(1040), price=D(20000))
    worked_machine(farm, "T-02", D("0.5"))
    farm.machine(tag="T-03")
    html = page(farm, month="2026-10")
    answer, rows = file(farm, month="2026-10")
    assert 'filename="report-alder-farm-2026-10.csv"' in answer["Content-Disposition"]
    assert [row["machine"] for row in rows] == ["T-01", "T-02", "T-03", "all machines"]
    by_name = {row["machine"].replace("all machines", "All machines"): row for row in rows}
    pairs = {
        "Hours and cost by machine": {
            "Hours run": "hours run",
            "Parts": "parts EUR",
            "Labour": "labour EUR",
            "Cost": "cost EUR",
            "Per hour": "cost per hour EUR",
            "Standard expects": "standard expects EUR",
        },
        "Work by machine": {
            "Fell due": "fell due",
            "In time": "done in time",
            "Late": "done late",
            "Not done": "not done",
            "Backlog done": "backlog done",
            "Backlog open": "backlog still open",
            "Deferred": "deferred",
            "Down time, days": "down time days",
        },
        "The next 60 days by machine": {
            "Overdue today": "overdue today",
            "Tasks expected": "tasks expected in 60 days",
            "Supplies, EUR": "supplies expected EUR",
        },
    }
    compared = 0
    for heading, columns in pairs.items():
        for name, figures in cells(html, heading).items():
            assert set(columns) <= set(figures)
            for label, column in columns.items():
                assert figures[label] == (by_name[name][column] or "–"), (heading, name, label)
                compared += 1
    assert compared == 4 * 6 + 3 * 8 + 3 * 3
    total = by_name["All machines"]
    assert total["hours run"] == "1040.5"
    assert total["cost EUR"] == "3068.38"  # 2 × (1500.02 + 34.17), each rounded half up
    assert total["labour minutes expected"] == "200"  # 2 × 90 likely in 20 days, 20 past at T-01
    assert total["standard expects EUR"] == by_name["T-01"]["standard expects EUR"]
    assert "T-03" not in cells(html, "Work by machine")


def test_columns_add_up_to_their_totals(farm):
    for n in range(4):
        worked_machine(farm, f"T-{n}", D("10.04") + n)
    _, rows = file(farm, month="2026-10")
    *machines, total = rows
    for column in (
        "hours run",
        "parts EUR",
        "labour EUR",
        "cost EUR",
        "down time days",
        "fell due",
        "not done",
    ):
        assert sum(D(row[column]) for row in machines) == D(total[column]), column


def test_what_comes_next_is_the_same_on_every_months_page_and_file(farm):
    worked_machine(farm, "T-01", D(40))
    cutter = farm.attachment(tag="C-01", in_service_on=date(2026, 11, 5))
    DutyFactory(machine=cutter, mark_hours=D(0), task__minutes=15)
    october, november = (
        cells(page(farm, month=f"2026-{n}"), "The next 60 days by machine") for n in (10, 11)
    )
    assert october == november
    assert list(october) == ["C-01", "T-01", "All machines"]
    for number in (10, 11):
        _, rows = file(farm, month=f"2026-{number}")
        assert [(row["machine"], row["labour minutes expected"]) for row in rows] == [
            ("C-01", "15"), ("T-01", "110"), ("all machines", "125"),
        ]  # fmt: skip
    assert file(farm, month="2026-10")[1][0]["down time days"] == "", "it was not here in October"


def test_the_total_of_hours_says_that_it_leaves_attachments_out(farm):
    tractor = worked_machine(farm, "T-01", D(40))
    assert "leaves the hours" not in page(farm)
    for number in (1, 2):
        cutter = farm.attachment(tag=f"C-0{number}")
        with farm.scope():
            Mounting.objects.create(
                organisation=farm.organisation, attachment=cutter, machine=tractor, hours_on=D(100),
                mounted_at=datetime(2026, 9, 30, 22, tzinfo=UTC),
            )  # fmt: skip
    html = page(farm)
    assert "so the total leaves out 2 attachments" in html
    table = cells(html, "Hours and cost by machine")
    assert [table[name]["Hours run"] for name in ("C-01", "C-02", "T-01")] == ["40.0"] * 3
    assert table["All machines"]["Hours run"] == "40.0"
    rows = file(farm)[1]
    assert [row["attachment, its hours not in the total"] for row in rows] == ["yes", "yes", "", ""]


def test_the_daily_round_is_not_said_to_be_in_it(farm):
    """A duty comes of no task of ten hours or less: what the page adds up has none."""
    worked_machine(farm, "T-01", D(40))
    html = page(farm)
    assert "daily care is in it" not in html
    assert "daily checks (tasks of ten hours or less) are left out" in html


def test_what_was_never_entered_is_said_and_counted(farm):
    machine = worked_machine(farm, "T-01", D(40))
    clean = page(farm)
    assert "Not in the" not in clean
    owner = {"organisation": farm.organisation}
    soon = NOW.date() + timedelta(days=20)
    with farm.scope():
        order = machine.orders.get()
        PartUsed(order=order, part=PartFactory(**owner), quantity=D(1), unit_cost=D(0), **owner).save()
        technician = TechnicianFactory(member__organisation=farm.organisation)
        Labour(order=order, technician=technician, minutes=30, hourly_rate=D(0), **owner).save()
    again = WorkOrderFactory(
        machine=machine, state="closed", closed_at=at(10, 13), closed_by=farm.manager, hours_at_close=D(111)
    )
    LineFactory(order=again, open=False, outcome="done", done_on=date(2026, 10, 13))
    bare = DutyFactory(
        machine=MachineFactory(tag="T-02", yard=farm.yard, **owner), task__minutes=0, mark_hours=D(9000),
        early=soon, likely=soon, late=soon,
    )  # fmt: skip
    SupplyNeed(task=bare.task, part=PartFactory(unit_cost=D(0), **owner), quantity=D(2), **owner).save()
    html = page(farm)
    assert (
        "Not in the cost: 1 part without a price, 1 labour entry without an hourly rate and "
        "1 order without time." in html
    )
    assert "Not in the labour time: 1 task without minutes." in html
    assert "Not in the cost of supplies: 1 supply without a price." in html
    coming = cells(html, "The next 60 days by machine")["T-02"]
    assert (coming["Labour time"], coming["Supplies, EUR"]) == ("not entered", "not entered")
    row, other, total = file(farm)[1]
    for each in (row, total):
        assert each["parts without a price"] == "1"
        assert each["labour without an hourly rate"] == "1"
        assert each["orders without time entered"] == "1"
    assert (other["tasks expected without minutes"], total["tasks expected without minutes"]) == ("1", "1")
    assert total["supplies expected without a price"] == "1"


def test_names_are_not_formulas_in_a_spreadsheet(farm):
    farm.machine(tag="=1+1")
    assert file(farm)[1][0]["machine"] == "'=1+1"


def test_last_full_month_by_the_farms_day(farm):
    """In Madrid the year ends at 23:00 UTC."""
    for moment, shown in [
        (datetime(2026, 12, 31, 22, 59, tzinfo=UTC), "November 2026"),
        (datetime(2026, 12, 31, 23, 0, tzinfo=UTC), "December 2026"),
    ]:
        with time_machine.travel(moment, tick=False):
            assert f"<h1>{shown}</h1>" in page(farm)


def test_months_before_and_after(farm):
    html = page(farm, month="2026-10")
    assert 'rel="prev" href="?month=2026-09"' in html
    assert 'rel="next" href="?month=2026-11"' in html
    html = page(farm, month="2026-11")
    assert "<h1>November 2026 so far</h1>" in html
    assert 'rel="next"' not in html


@pytest.mark.parametrize(
    ("asked", "shown", "said"),
    [
        ("soon", "October 2026", "Write the month like 2026-10."),
        ("2026-13", "October 2026", "Write the month like 2026-10."),
        ("9999-12", "November 2026 so far", "December 9999 is still to come"),
        ("0001-01", "January 1970", ""),
    ],
)
def test_odd_months_are_answered_in_words(farm, asked, shown, said):
    html = page(farm, month=asked)
    assert f"<h1>{shown}</h1>" in html
    assert said in html


def test_nothing_due_claims_no_share(farm):
    html = page(farm)
    kept = question(html, "Are we keeping up?")
    assert "No service programme says yet what falls due." in kept
    assert "100" not in kept
    assert "No machine was in service." in html


def test_with_a_programme_it_says_that_no_task_fell_due(farm):
    DutyFactory(machine=farm.machine(), mark_hours=D(5000))
    kept = question(page(farm), "Are we keeping up?")
    assert "No task fell due." in kept
    assert '<span class="figure">–</span>' in kept


def test_currency_of_the_organisation(farm):
    farm.organisation.currency = "USD"
    farm.organisation.save()
    worked_machine(farm, "T-01", D(40))
    assert '<span class="figure">1 534.19 USD</span>' in page(farm)
    assert file(farm)[1][0]["cost USD"] == "1534.19"


@pytest.mark.parametrize(
    ("role", "status"), [("owner", 200), ("manager", 200), ("technician", 403), ("counter", 403)]
)
def test_who_may(farm, role, status):
    assert farm.client(role).get("/ledger/").status_code == status
    assert farm.client(role).get("/ledger/?format=csv").status_code == status


@pytest.mark.parametrize("month", ["soon", "2026-13", "2026-1", "0000-01"])
def test_what_is_no_month_has_no_file(farm, month):
    asked = {"month": month, "format": "csv"}
    assert farm.client("owner").get("/ledger/", asked).status_code == 404


def test_strangers_see_their_own(farm, stranger):
    worked_machine(farm, "T-01", D(40))
    assert "T-01" not in page(stranger)
    assert [row["machine"] for row in file(stranger)[1]] == ["all machines"]


def test_same_queries_for_10_and_200_machines(farm):
    def cost(machines):
        task = DutyFactory(machine__organisation=farm.organisation).task
        for n in range(machines):
            machine = farm.machine(type=task.version.program.machine_type)
            ReadingFactory(machine=machine, taken_at=at(10, 5), shows=D(n))
            DutyFactory(machine=machine, task=task, mark_hours=D(n))
        browser = farm.client("owner")
        with CaptureQueriesContext(connection) as queries:
            assert browser.get("/ledger/?month=2026-10").status_code == 200
        return len(queries)

    assert cost(10) == cost(190)
