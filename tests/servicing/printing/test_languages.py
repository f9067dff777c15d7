"""Paper in the language of who prints it: no label of the English sheet is left on a German one."""

import re
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils.translation import gettext, override

from fleet.core.languages import spoken_to
from fleet.models import User
from servicing.job_sheet.build import build_job_sheet
from servicing.models import CheckResult, Task, WorkOrder
from servicing.printing import typeset
from servicing.printing.job_sheet_pdf import job_sheet, words
from servicing.printing.label_sheets import SHEETS, said
from tests.factories import LineFactory, WorkOrderFactory
from tests.servicing.printing.conftest import NOW
from tests.servicing.web.test_ledger import worked_machine

GERMAN = User(language="de")
REPORT_AT = datetime(2026, 11, 20, 23, 30, tzinfo=UTC)


@pytest.fixture
def german(farm):
    """The farm, its people reading German."""
    User.objects.update(language="de")
    return farm


def texts(words):
    """Every text among the words of a sheet, as deep as it stands."""
    if isinstance(words, dict):
        return {each for value in words.values() for each in texts(value)}
    if isinstance(words, list):
        return {each for value in words for each in texts(value)}
    return {words} if isinstance(words, str) else set()


def unbroken(text):
    """A text with its broken words put together; without thin spaces, which poppler drops here and there."""
    return text.replace("- ", "").replace("\u00ad ", "").replace("\u202f", "")


def left_in(text, messages):
    """The English messages that stand in a text as they are; of a sentence with places, its longest part."""
    found = set()
    for message in messages:
        part = max(re.split(r"\{\w+\}", message), key=len).strip(" :,.").replace("'", "’")
        if re.search(rf"(?<!\w){re.escape(part)}(?!\w)", text):
            found.add(message)
    return found


@pytest.fixture
def told(order):
    """The order, with everything a sheet can say of its lines: licensed work, last values, a long wait."""
    line = order.lines.get(task__title="Engine oil")
    Task.objects.filter(pk=line.task_id).update(skill="licensed")
    check = line.task.checks.get()
    before = WorkOrderFactory(machine=order.machine, number=77, made_by=order.made_by)
    CheckResult.objects.create(
        line=LineFactory(order=before, task=line.task, open=False),
        check_made=check,
        kind="torque",
        label="Drain plug",
        organisation=order.organisation,
        found_value=Decimal("33.50"),
        found_unit="N·m",
        found_passes=False,
        left_value=Decimal(50),
        left_unit="N·m",
        left_passes=False,
    )
    WorkOrder.objects.filter(pk=before.pk).update(
        state="closed",
        closed_at=datetime(2026, 3, 3, 9, tzinfo=UTC),
        closed_by=order.made_by,
        hours_at_close=Decimal("900.5"),
    )
    return order


def test_a_job_sheet_printed_by_a_german_member_is_german(told, read, about):
    with spoken_to(GERMAN):
        made = job_sheet(build_job_sheet(told), size="a4", at=NOW)
    text = unbroken(read(made, "-raw"))
    assert about(made)["Title"] == f"Auftragsblatt {told.number}: T-07"
    for expected in (
        f"Auftragsblatt {told.number}: T-07",
        "Techniker/in nicht zugewiesen",
        "Geplant für noch kein Tag",
        "Arbeiten, in dieser Reihenfolge",
        "Prüfung Grenzwert Letztes Mal Vorgefunden Nach der Arbeit",
        "Motor warm",
        "Betriebsanleitung S. 4-2",
        "Öffnen: bonnet.",
        "Außerhalb der Grenzwerte: Change the washer.",
        "Sicherheitsprüfung",
        "N·m, danach 50 N·m",
        "außerhalb der Grenzwerte",
        "3. Mär 2026 bei 900,5 h",
        "erledigt",
        "an die Fachwerkstatt gegeben",
        "Zähler beim Abschluss (zuletzt 1204,5 h)",
        "Seite 1 von ",
        "Gedruckt 5. Mai 2026, 00:30",
        "Betriebsanleitung, örtliche Vorschriften und Fachbetrieb gehen vor.",
        # as typed
        "Mind the new paint.",
        "Put the pan under.",
    ):
        assert expected in text, (expected, text)
    assert not left_in(text, typeset.every_message())


def test_what_the_sheet_says_of_lines_and_values_is_translated(told):
    sheet = build_job_sheet(told)
    english = {"done", "adjusted", "deferred", "referred", "not fitted", "Engine warm", "outside its limits"}
    with override("en-gb"):
        assert english <= texts(words(sheet, at=NOW))
    with spoken_to(GERMAN):
        assert not english & texts(words(sheet, at=NOW))


@pytest.mark.time_machine(REPORT_AT, tick=False)
def test_a_report_printed_by_a_german_owner_is_german(german, read, about):
    worked_machine(german, "T-01", Decimal(1040), price=Decimal(20000))
    answer = german.client("owner").get(reverse("ledger-pdf"), {"month": "2026-10"})
    text = unbroken(read(answer.content, "-raw"))
    assert about(answer.content)["Title"] == "Alder Farm: Bericht, Oktober 2026"
    for expected in (
        "Bericht, Oktober 2026",
        "1 Maschine, 1040,0 h gelaufen.",
        "Kommen wir nach?",
        "50,0 %",
        "Termintreue",
        "1 von 2 Arbeiten pünktlich erledigt, 1 bis Monatsende nicht erledigt.",
        "Was hat es gekostet?",
        "Teile 1500,02, Arbeitszeit 34,17.",
        "Was kommt in 60 Tagen?",
        "ab 21. November",
        "Arbeiten je Maschine",
        "Stunden und Kosten je Maschine",
        "Die nächsten 60 Tage je Maschine",
        "Alle Maschinen",
        "0,007 × Preis × (Stunden / 1000)²",
        "So wird gezählt",
        "Seite 1 von ",
        "Gedruckt Sa 21. November 2026",
    ):
        assert expected in text, (expected, text)
    english = {
        "Machine", "Fell due", "In time", "Late", "Not done", "Backlog", "Deferred", "Down time", "Hours",
        "Cost", "Per hour", "Parts", "Labour", "Standard", "Overdue", "Tasks", "Supplies", "Money in",
        "All machines", "task", "tasks", "done", "run", "from", "The", "is",
    }  # fmt: skip
    assert not left_in(text, english | typeset.every_message())


def test_a_sticker_made_by_a_german_member_is_german(german, read, about):
    machine = german.machine(tag="T-01")
    answer = german.client("counter").get(reverse("machine-stickers-pdf"), {"machine": machine.pk})
    assert about(answer.content)["Title"] == "Aufkleber"
    assert "Scannen und Stunden eingeben, oder tippen:" in read(answer.content, "-raw")


def test_label_sheets_are_told_with_the_readers_decimal_mark():
    with spoken_to(GERMAN):
        assert said(SHEETS["a4-3x7"]) == "3 × 7 Etiketten zu 63,5 × 38,1 mm"
        assert said(SHEETS["a4-3x8-no-gap"]) == "3 × 8 Etiketten zu 70 × 37 mm, ohne Abstand"


def test_every_message_of_the_templates_is_found_and_has_a_german_word():
    messages = typeset.every_message()
    assert {"page {number} of {all}", "As found", "Scan to enter hours, or type:"} <= messages
    with override("de"):
        assert all(gettext(message) != message for message in messages)


def test_a_day_is_written_as_its_reader_writes_days(told, read):
    reader = User(language="en-gb", days_written="ISO")
    with spoken_to(reader):
        text = read(job_sheet(build_job_sheet(told), size="a4", at=NOW))
    assert "Printed 2026-05-05, 00:30" in text
