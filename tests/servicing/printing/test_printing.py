"""The job sheet as a PDF, read back with poppler's tools as a printer would see it."""

import re
from datetime import UTC, datetime
from decimal import Decimal

import pytest
import segno
from django.template.loader import render_to_string

from fleet.core.hazards import Action, Hazard, Signal
from servicing import workorders
from servicing.job_sheet.build import build_job_sheet
from servicing.models import Caution, CheckResult, ProgramVersion, WorkOrder
from servicing.printing import signs, typst
from servicing.printing.job_sheet_pdf import job_sheet, words
from tests.factories import (
    CheckFactory,
    FaultFactory,
    LineFactory,
    TaskFactory,
    WorkOrderFactory,
)
from tests.servicing.printing.conftest import NOW

# What Typst reads as markup, code, comment, reference or escape, and what a browser would
HOSTILE = [
    '#panic("no")',
    "#let x = 1",
    "*not strong* _not emphasis_",
    "$ sum_(k=1)^n k $",
    "<label> @reference",
    "[content] ] [",
    "\\ back\\slash \\u{41}",
    "= heading - list + enum / term: it",
    "`raw` ```raw``` ~ -- --- ...",
    "// comment /* and */ the rest",
    "{braces} } { ' \" ; , https://example.org",
    "<script>alert(1)</script> &amp;",
]


def pdf(order, size="a4"):
    return job_sheet(build_job_sheet(order), size=size, at=NOW)


def test_everything_a_technician_needs_stands_on_it(order, read):
    text = read(pdf(order), "-layout")
    for expected in (
        f"Job sheet {order.number}: T-07",
        "Mind the new paint.",
        "Begin with the engine warm",
        "wrench 17 mm",
        "Engine right · Engine warm · 30 min + 15 min waiting · manual p. 4-2",
        "Open: bonnet.",
        "Hot oil burns.",
        "35 to 45 N·m",
        "Outside the limits: Change the washer.",
        "tight: no play",
        "safety check",
        "Put right: Horn is silent",
        "The maker’s manual, local rules and licensed practice come first.",
    ):
        assert expected in text, expected


def test_invented_figures_are_told_in_the_head_before_any_work(order, read):
    assert "Invented figures" not in read(pdf(order))
    ProgramVersion.objects.update(invented=True)
    text = read(pdf(order), "-layout")
    assert "Invented figures: for trying out only. Use the maker's manual." in text
    assert text.index("Invented figures") < text.index("Mind the new paint.")


def test_cautions_stand_before_the_step_they_belong_to(order, read):
    text = read(pdf(order))
    assert text.index("Put the pan under.") < text.index("Hot oil burns.") < text.index("Take the plug out.")


def test_a_caution_on_paper_says_the_signal_word_the_hazard_and_what_to_wear(order, read):
    cautions = order.lines.get(task__title="Engine oil").task.cautions
    assert "Hot parts or fluid Hot oil burns." in " ".join(read(pdf(order), "-raw").split())
    cautions.update(signal="danger", actions=["gloves", "no-start"])
    text = " ".join(read(pdf(order), "-raw").split())
    assert "DANGER Hot parts or fluid. Hot oil burns. Wear gloves Do not start it" in text
    cautions.update(hazard="general", signal="caution", actions=[])
    assert "CAUTION Hot oil burns." in " ".join(read(pdf(order), "-raw").split())


@pytest.mark.parametrize("signal", ["", *Signal.values])
@pytest.mark.parametrize("hazard", Hazard.values)
def test_each_caution_is_told_on_paper_by_what_the_page_says(hazard, signal):
    caution = Caution(hazard=hazard, signal=signal, actions=Action.values, text="Mind it.")
    printed = signs.printed(caution)
    page = render_to_string("parts/caution.html", {"caution": caution})
    for told in (printed["head"], printed["name"], *(each["words"] for each in printed["actions"])):
        assert told in page
    for sign in (printed["sign"], *(each["sign"] for each in printed["actions"])):
        assert not sign or f'hazards.svg#{sign}"' in page
    assert printed["sign"] or printed["signal"]
    assert {printed["sign"], *(each["sign"] for each in printed["actions"])} <= {"", *signs.drawings()}


def test_lines_stand_in_the_order_of_work_with_their_numbers(order, read):
    text = read(pdf(order), "-raw")
    built = build_job_sheet(order)
    places = [text.index(f"{row.number} {row.line.title}") for row in built.lines]
    assert len(places) == 3
    assert places == sorted(places)


@pytest.mark.parametrize("hostile", HOSTILE)
def test_words_of_people_are_shown_as_they_are(order, read, hostile):
    oil = order.lines.get(task__title="Engine oil")
    oil.title = hostile
    oil.save()
    oil.task.steps = [hostile]
    oil.task.outside_text = hostile
    oil.task.save()
    oil.task.cautions.update(text=hostile)
    order.note = hostile
    order.machine.tag = hostile[:20]
    text = read(pdf(order), "-raw").replace(" ", "")
    shown = hostile.replace(" ", "")
    # as title, step, what to do outside the limits, caution and note
    assert text.count(shown) >= 5, text


def test_the_square_leads_back_to_the_order(order, settings):
    settings.SITE_URL = "https://hourmark.example"
    address = f"https://hourmark.example/orders/{order.pk}/"
    drawn = words(build_job_sheet(order), at=NOW)
    assert drawn["address"] == address
    assert drawn["square"] == typst.square(address)
    # the drawing holds exactly the dark modules of that code (ISO/IEC 18004, by segno)
    assert dark_modules(drawn["square"]) == {
        (x, y)
        for y, row in enumerate(segno.make(address, error="m", micro=False).matrix)
        for x, dark in enumerate(row)
        if dark
    }


def dark_modules(svg: str) -> set[tuple[int, int]]:
    """Return the modules drawn by an SVG path of horizontal strokes of height 1 on half-integer lines."""
    found = re.search(r' d="([^"]+)"', svg)
    assert found
    path = found[1]
    x, y, dark = 0.0, 0.0, set()
    for command, numbers in re.findall(r"([Mmh])([^Mmh]*)", path):
        values = [float(number) for number in re.findall(r"-?\d*\.?\d+", numbers)]
        if command == "M":
            x, y = values
        elif command == "m":
            x, y = x + values[0], y + values[1]
        else:
            dark |= {(int(x) + step, int(y)) for step in range(int(values[0]))}
            x += values[0]
    return dark


@pytest.mark.parametrize(
    # ISO 216 and ANSI/ASME Y14.1, in points of 1/72 in
    ("size", "points"),
    [("a4", (595.28, 841.89)), ("letter", (612, 792))],
)
def test_paper_sizes(order, about, size, points):
    shown = about(pdf(order, size))["Page size"]
    assert [float(number) for number in re.findall(r"[\d.]+", shown)[:2]] == pytest.approx(points, abs=0.1)


def test_every_page_names_the_order_and_its_number(order, read, about):
    version = order.lines.exclude(task=None).first().task.version
    for number in range(8):
        task = TaskFactory(version=version, title=f"More {number}", steps=[f"Step {n}." for n in range(9)])
        LineFactory(order=order, task=task)
    order.machine.yard.zone = "UTC"
    made = pdf(order)
    pages = int(about(made)["Pages"])
    assert pages > 2
    for page in range(1, pages + 1):
        text = read(made, "-f", str(page), "-l", str(page))
        assert f"Order {order.number} T-07 Alder Farm" in text
        assert f"page {page} of {pages}" in text
        assert "Printed 4 May 2026, 22:30" in text


def test_a_task_that_breaks_over_a_page_is_named_again_on_the_next(order, read, about):
    version = order.lines.exclude(task=None).first().task.version
    long = TaskFactory(version=version, title="Overhaul", steps=[f"Step {n}." for n in range(1, 150)])
    LineFactory(order=order, task=long, title=long.title)
    made = pdf(order)
    number = next(row.number for row in build_job_sheet(order).lines if row.line.title == "Overhaul")
    pages = [read(made, "-f", str(page), "-l", str(page)) for page in range(1, int(about(made)["Pages"]) + 1)]
    [begins] = [at for at, page in enumerate(pages) if "Step 1." in page]
    [ends] = [at for at, page in enumerate(pages) if "Step 149." in page]
    assert begins < ends
    for at, page in enumerate(pages):
        assert (f"{number} (continued) Overhaul" in page) is (begins < at <= ends), (at, page)
    assert "(continued)" in pages[1]


@pytest.mark.parametrize("lines", range(2, 44, 2))
def test_nothing_that_belongs_together_is_parted_by_a_page(order, read, about, lines):
    version = order.lines.exclude(task=None).first().task.version
    bare = TaskFactory(version=version, title="A measure alone")
    CheckFactory(task=bare, code="play", label="Play of the lever", lower=Decimal(1), upper=Decimal(3))
    LineFactory(order=order, task=bare, title=bare.title)
    order.note = "\n".join(["A word."] * lines)
    made = pdf(order)
    headings = {row.line.title for row in build_job_sheet(order).lines}
    headings |= {
        "Prepare",
        "Tools",
        "Supplies",
        "Work, in this order",
        "Check Limit Last time As found As left",
    }
    number = int(about(made)["Pages"])
    for page in range(1, number + 1):
        text = read(made, "-f", str(page), "-l", str(page), "-layout")
        assert ("Pins" in text) is ("tight: no play" in text), (page, text)
        assert ("Hot oil burns." in text) is ("Take the plug out." in text), (page, text)
        if page == number:
            break
        last = text.split(" The maker’s manual, local rules")[0]
        assert not last.endswith(tuple(headings)), (page, last[-80:])
        assert not re.search(r"(20 min|manual p\. 4-2|15 min waiting)$", last), (page, last[-80:])


def test_the_meter_at_close_is_asked_for_beside_its_last_reading(order, read):
    assert "Meter at close (last 1 204.5 h)" in read(pdf(order))
    order.machine.hours_at = None
    assert "Meter at close Date" in read(pdf(order), "-layout")


def test_it_is_printed_on_the_yards_day(order, read):
    order.machine.yard.zone = "Europe/Helsinki"
    assert "Printed 5 May 2026, 01:30" in read(pdf(order))


def test_last_values_and_what_was_entered_stand_beside_their_check(order, read):
    line = order.lines.get(task__title="Engine oil")
    check = line.task.checks.get()
    before = WorkOrderFactory(machine=order.machine, number=77, made_by=order.made_by)
    value = {"check_made": check, "kind": "torque", "label": "Drain plug", "organisation": order.organisation}
    CheckResult.objects.create(
        line=LineFactory(order=before, task=line.task, open=False),
        found_value=Decimal("33.50"),
        found_unit="N·m",
        found_passes=False,
        left_value=Decimal(40),
        left_unit="N·m",
        left_passes=True,
        **value,
    )
    WorkOrder.objects.filter(pk=before.pk).update(
        state="closed",
        closed_at=datetime(2026, 3, 3, 9, tzinfo=UTC),
        closed_by=order.made_by,
        hours_at_close=900,
    )
    CheckResult.objects.create(line=line, found_value=Decimal("38.2"), found_unit="N·m", **value)
    text = read(pdf(order), "-raw")
    assert "33.5 N·m, left 40 N·m" in text
    assert "3 Mar 2026 at 900.0 h" in text
    assert "38.2 N·m" in text


def test_an_order_of_faults_only_has_a_sheet(in_farm, read):
    machine = in_farm.machine()
    order = workorders.plan(member=in_farm.manager, machine=machine, faults=[FaultFactory(machine=machine)])
    assert "1 Put right: Oil leak at the front axle" in read(pdf(order))


def test_the_same_sheet_gives_the_same_words(order):
    assert words(build_job_sheet(order), at=NOW) == words(build_job_sheet(order), at=NOW)
