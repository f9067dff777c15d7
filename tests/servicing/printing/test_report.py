"""The month's report on paper says what its page says, and nothing stands alone at the foot of a page."""

import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal as D
from types import SimpleNamespace

import pytest
from django.urls import reverse

from servicing.ledger.compliance import Compliance
from servicing.ledger.costs import Cost
from servicing.ledger.monthly_sheet import Expected, MachineMonth, Sheet
from servicing.ledger.outlook import Outlook
from servicing.ledger.period import Month
from servicing.printing.report_pdf import report
from tests.servicing.web.test_ledger import cells, page, worked_machine

NOW = datetime(2026, 11, 20, 23, 30, tzinfo=UTC)
pytestmark = pytest.mark.time_machine(NOW, tick=False)
HEADINGS = (
    "Work by machine",
    "Hours and cost by machine",
    "The next 60 days by machine",
    "How this is counted",
)
COLUMNS = ("Down time, days", "Standard expects", "Supplies, EUR")  # the last name in each table's head
FOOT = "Printed Sat 21 November 2026"  # in Madrid it is past midnight


def house(**values):
    return SimpleNamespace(**{"name": "Alder Farm", "currency": "EUR", "zone": "Europe/Madrid", **values})


def sheet(machines, *, tag="T-{:02}", cost="1234.50", until=date(2026, 10, 31)):
    """A month in which each machine ran, was late, cost something, and will need work."""
    rows = [
        MachineMonth(
            number, tag.format(number), "a", D("40.5"), Cost(D(cost), D("20.00")), D("25.00"), D("0.5"),
            Compliance(3, 1, 1, 2, 1), 1,
        )
        for number in range(machines)
    ]  # fmt: skip
    ahead = [
        Expected(row.machine_id, row.tag, "a", Outlook(D("1.5"), 90, D(30)), hangs=False) for row in rows
    ]
    return Sheet(Month(2026, 10), until, until.day < 31, rows, ahead)


def made(month, size="a4", **values):
    return report(month, organisation=house(**values), size=size, at=NOW)


@pytest.fixture
def pages(read, about):
    """The words of each page."""

    def pages(pdf):
        count = int(about(pdf)["Pages"])
        return [
            read(pdf, "-f", str(number), "-l", str(number), "-layout").replace("\u202f", " ")
            for number in range(1, count + 1)
        ]

    return pages


@pytest.mark.parametrize("machines", [0, 1, 60])
def test_each_page_says_whose_it_is_when_it_was_printed_and_which_it_is(pages, machines):
    found = pages(made(sheet(machines)))
    assert len(found) == (1 if machines < 2 else len(found))
    assert machines < 60 or len(found) > 3
    for number, text in enumerate(found, start=1):
        assert text.endswith(f"Alder Farm page {number} of {len(found)} {FOOT}")
    assert "Report, October 2026 " in found[0]
    for question in ("Are we keeping up?", "What did it cost?", "What comes in 60 days?"):
        assert question in found[0]


def test_without_machines_it_says_so_and_has_no_tables(pages):
    (text,) = pages(made(sheet(0)))
    assert "No machine was in service." in text
    assert "No task fell due." in text
    assert not any(heading in text for heading in HEADINGS[:3])
    assert HEADINGS[3] in text


def test_every_machine_stands_in_every_table_and_a_table_that_goes_on_repeats_its_head(pages):
    found = pages(made(sheet(60)))
    whole = " ".join(found)
    for number in range(60):
        assert len(re.findall(rf"\bT-{number:02}\b", whole)) == 3, number
    for text in found:
        if "T-" in text:
            first = text.index("T-")
            assert "Machine" in text[:first], text[:200]
    for column in COLUMNS:
        assert whole.count(column) > 1, column
    assert whole.count("All machines") == 3


@pytest.mark.parametrize("size", ["a4", "letter"])
@pytest.mark.parametrize("machines", range(1, 61, 3))
def test_no_heading_stands_alone_at_the_foot(pages, machines, size):
    *before, _ = pages(made(sheet(machines), size))
    for text in before:
        body = text.split(" Alder Farm page ")[0]
        assert not body.endswith((*HEADINGS, *COLUMNS)), body[-80:]
        assert not re.search(r"Money in EUR\.$", body), body[-80:]


def test_a_running_month_says_up_to_which_day(pages):
    text = " ".join(pages(made(sheet(2, until=date(2026, 10, 9)))))
    assert "Report, October 2026 so far" in text
    assert "up to 9 October." in text
    assert "2 not done yet." in text


def test_long_names_and_large_amounts_are_not_cut(read):
    long = "Kettlewell-Ravensthorpe No. {:03}"
    name = "The Old Rectory Machinery Co-operative of Upper and Lower Netherthorpe-on-the-Water"
    text = read(made(sheet(3, tag=long, cost="1234567.89"), name=name, currency="CHF"), "-raw")
    joined = text.replace("- ", "-")
    assert joined.count("Kettlewell-Ravensthorpe No. 002") == 3
    figures = squeezed(text)
    assert figures.count("1234567.89") == 3
    assert "3703763.67CHF" in figures  # three times 1 234 567.89 and 20.00
    assert "Supplies, CHF" in joined
    assert joined.count("Netherthorpe-on-the-Water") >= 2


@pytest.mark.parametrize("hostile", ['#panic("no")', "*x* _y_", "$ sum $", "<a> @b", "] ) }", "\\ \\u{41}"])
def test_names_are_shown_as_they_are(read, hostile):
    text = read(made(sheet(1, tag=hostile.replace("{", "{{").replace("}", "}}")), name=hostile), "-raw")
    assert text.replace(" ", "").count(hostile.replace(" ", "")) >= 5


def test_the_figures_are_those_of_the_page(farm, pages):
    for number, hours in ((1, D(1040)), (2, D("0.5"))):
        worked_machine(farm, f"T-0{number}", hours, price=D(20000) if number == 1 else None)
    html = page(farm, month="2026-10")
    answer = farm.client("owner").get(reverse("ledger-pdf"), {"month": "2026-10"})
    text = " ".join(pages(answer.content))
    for heading in HEADINGS[:3]:
        printed = squeezed(text.split(heading)[1])
        for name, figures in cells(html, heading).items():
            assert squeezed(name + "".join(figures.values())) in printed, (heading, name)
    answers = re.findall(r'<span class="figure">([^<]+)</span>', html)
    assert len(answers) == 3
    assert all(squeezed(figure) in squeezed(text) for figure in answers)


def squeezed(text):
    """The text without its blanks: poppler drops some of the thin ones between thousands."""
    return "".join(text.split())


# ---- the address


@pytest.mark.parametrize(
    ("role", "status"), [("owner", 200), ("manager", 200), ("technician", 403), ("counter", 403)]
)
def test_who_may(farm, role, status):
    answer = farm.client(role).get(reverse("ledger-pdf"), {"month": "2026-10"})
    assert answer.status_code == status
    if status == 200:
        assert answer["Content-Type"] == "application/pdf"
        assert answer["Content-Disposition"] == 'inline; filename="report-alder-farm-2026-10.pdf"'
    assert farm.client(role).post(reverse("ledger-pdf")).status_code == 405


@pytest.mark.parametrize(
    ("units", "asked", "width"),
    [
        ("metric", {}, 595),
        ("us", {}, 612),
        ("us", {"paper": "a4"}, 595),
        ("metric", {"paper": "letter"}, 612),
        ("metric", {"paper": "foolscap", "month": "2026-10"}, 595),
    ],
)
def test_the_paper_is_as_asked_or_as_usual(farm, about, units, asked, width):
    farm.organisation.units = units
    farm.organisation.save()
    pdf = farm.client("owner").get(reverse("ledger-pdf"), asked).content
    assert int(float(about(pdf)["Page size"].split()[0])) == width
    assert about(pdf)["Title"] == "Alder Farm: Report, October 2026"


@pytest.mark.parametrize("month", ["soon", "2026-13", "2026-1", "0000-01"])
def test_what_is_no_month_has_no_paper(farm, month):
    assert farm.client("owner").get(reverse("ledger-pdf"), {"month": month}).status_code == 404


def test_a_month_to_come_is_the_one_that_runs(farm, read):
    pdf = farm.client("owner").get(reverse("ledger-pdf"), {"month": "2027-02"}).content
    assert "November 2026 so far" in read(pdf)


def test_strangers_print_their_own(farm, stranger, read):
    worked_machine(farm, "T-01", D(40))
    text = read(stranger.client("owner").get(reverse("ledger-pdf")).content)
    assert "T-01" not in text
    assert "No machine was in service" in text


def test_invented_figures_are_told_in_the_head(read):
    month = sheet(1)
    told = Sheet(month.month, month.until, month.running, month.rows, month.ahead, {1})
    assert "Invented figures" not in read(made(month))
    text = read(made(told))
    assert text.index("Invented figures: for trying out only.") < text.index("Are we keeping up?")


def test_the_page_leads_to_it(farm):
    month = NOW.date().replace(day=1) - timedelta(days=1)
    assert f'href="/ledger/report.pdf?month={month:%Y-%m}">' in page(farm)
