"""A file on its way in: nothing is taken in before it is confirmed, nothing is doubled or lost."""

from datetime import timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from celery.exceptions import SoftTimeLimitExceeded
from django.db import OperationalError
from openpyxl import Workbook

from fleet import tasks
from fleet.core.errors import FleetError, NoRoom, NotAllowed, WrongState
from fleet.imports import inspection, uploads
from fleet.imports import rows as import_rows
from fleet.imports.column_mapping import Plan
from fleet.models import Machine, Reading, RejectedRow, SentFile
from tests.fleet.imports.sent_files import BODY, HEAD, receive, send, start, taken

pytestmark = pytest.mark.usefixtures("kept_apart")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_file_that_names_its_separator_waits_or_says_why_not(in_farm, machines, encoding):
    text = "sep={mark}\n" + (HEAD + BODY).replace(";", "{mark}")
    read = receive(in_farm, text.format(mark="|").encode(encoding))
    assert (read.state, read.rows) == ("waiting", 4)
    assert read.look.endswith("separated by vertical bars")
    refused = receive(in_farm, text.format(mark="^").encode(encoding), name="other.csv")
    assert refused.state == "unread"
    assert "separated by “^”. Save it separated by commas" in refused.fault


def test_nothing_is_taken_in_by_sending_and_looking(in_farm, machines):
    sent = receive(in_farm)
    told = uploads.preview(sent, Plan.kept(sent.plan))
    assert [each.state for each in told] == ["counted", "counted", "counted", "refused"]
    assert (sent.state, sent.rows, sent.look) == ("waiting", 4, "CSV, UTF-8, separated by semicolons")
    assert not Reading.objects.exists()
    assert Machine.objects.filter(hours=0).count() == 2


def test_a_confirmed_file_is_taken_in_once_however_often_it_is_run(in_farm, machines):
    sent = start(in_farm, receive(in_farm))
    assert not Reading.objects.exists()  # the queue does it
    for _ in range(2):
        tasks.take_file(sent_id=sent.pk, organisation_id=in_farm.organisation.pk)
        assert taken(sent) == ("done", 4, 3, 0, 0, 1)
    assert Reading.objects.count() == 3
    assert Machine.objects.get(tag="T-01").hours == Decimal("1031.50")
    assert {(r.source, r.sender, r.taken_by) for r in Reading.objects.all()} == {
        ("file", "hours.csv", in_farm.manager)
    }
    again = start(in_farm, receive(in_farm))
    uploads.run(again.pk)
    assert taken(again) == ("done", 4, 0, 0, 3, 1)


NOTES = {
    "whole": "x" * 2000,
    "blanks around it": " " * 2100 + "x" * 2000 + " " * 2100,
    "one letter more": "x" * 2001,
    "far too long": "x" * 9000,
    "blanks where it is cut": "x" * 1990 + " " * 20 + "lost?",
    "guarded": "'=" + "x" * 1999,
    "guarded and one letter more": "'=" + "x" * 2000,
}


@pytest.mark.parametrize("kind", ["csv", "shared", "inline"])
@pytest.mark.parametrize("written", NOTES.values(), ids=NOTES)
def test_of_a_long_note_nothing_is_lost_without_a_word(in_farm, machines, kind, written):
    note = written.strip().removeprefix("'") if kind == "csv" else written.strip()
    rows = [["machine", "date", "hours", "note"], ["T-01", "2026-01-05", "10", written]]
    if kind == "csv":
        data = "\n".join(";".join(row) for row in rows).encode()
    else:
        file = BytesIO()
        book = Workbook(write_only=kind == "inline")
        sheet = book.create_sheet() if kind == "inline" else book.active
        for row in rows:
            sheet.append(row)
        book.save(file)
        data = file.getvalue()
    sent = start(in_farm, receive(in_farm, data, "hours.csv" if kind == "csv" else "hours.xlsx"))
    uploads.run(sent.pk)
    if len(note) <= 2000:
        assert Reading.objects.get().note == note
    else:
        assert not Reading.objects.exists()
        assert RejectedRow.objects.get().reason == "The note is longer than 2000 characters."


def test_whoever_dies_in_between_leaves_it_as_after_the_last_batch(in_farm, machines, monkeypatch):
    monkeypatch.setattr(import_rows, "ROWS_AT_ONCE", 2)
    sent = start(in_farm, receive(in_farm))
    real = uploads.take_rows
    lots = []

    def dies(rows, **kwargs):
        lots.append(rows)
        told = real(rows, **kwargs)
        if len(lots) == 2:
            raise OperationalError("the server closed the connection")  # after its rows were written
        return told

    monkeypatch.setattr(uploads, "take_rows", dies)
    with pytest.raises(OperationalError):
        uploads.run(sent.pk)
    assert taken(sent) == ("running", 2, 2, 0, 0, 0)
    assert Reading.objects.count() == 2
    uploads.run(sent.pk)
    assert taken(sent) == ("done", 4, 3, 0, 0, 1)
    assert [rows[0].line for rows in lots] == [2, 4, 4]  # it goes on where it was
    assert RejectedRow.objects.count() == 1


def test_one_that_was_overtaken_stops(in_farm, machines, monkeypatch):
    """Two workers on one file: whoever finds that the other has come further leaves it to that one."""
    monkeypatch.setattr(import_rows, "ROWS_AT_ONCE", 1)
    sent = start(in_farm, receive(in_farm))
    real = uploads.take_rows
    overtaken = []

    def overtake(rows, **kwargs):
        if not overtaken:
            overtaken.append(True)
            uploads.run(sent.pk)  # the other one does it all, before this one's first batch is in
            raise OperationalError("deadlock")
        return real(rows, **kwargs)

    monkeypatch.setattr(uploads, "take_rows", overtake)
    with pytest.raises(OperationalError):
        uploads.run(sent.pk)
    uploads.run(sent.pk)
    assert taken(sent) == ("done", 4, 3, 0, 0, 1)
    assert Reading.objects.count() == 3


def test_a_fault_breaks_it_off_and_a_person_can_go_on(in_farm, machines, monkeypatch, caplog):
    sent = start(in_farm, receive(in_farm))
    with monkeypatch.context() as patch:
        patch.setattr(uploads, "take_rows", lambda *args, **kwargs: 1 / 0)
        uploads.run(sent.pk)
    assert taken(sent)[:2] == ("failed", 0)
    assert "Nothing is lost or counted twice" in sent.fault
    assert "ZeroDivisionError" in caplog.text
    start(in_farm, sent)
    uploads.run(sent.pk)
    assert taken(sent) == ("done", 4, 3, 0, 0, 1)


def test_a_file_that_is_gone_is_told(in_farm, machines):
    sent = start(in_farm, receive(in_farm))
    sent.file.storage.delete(sent.file.name)
    uploads.run(sent.pk)
    sent.refresh_from_db()
    assert (sent.state, sent.fault) == ("failed", "hours.csv is not there any more; send it again.")


def test_the_sweep_finds_what_nobody_works_on(
    in_farm, machines, task_queue, django_capture_on_commit_callbacks
):
    sent = start(in_farm, receive(in_farm))
    with django_capture_on_commit_callbacks(execute=True) as published:
        assert uploads.sweep() == 0  # just begun
        assert uploads.sweep(sent.heard_at + timedelta(minutes=2)) == 0
        assert uploads.sweep(sent.heard_at + timedelta(minutes=2, seconds=1)) == 1
    assert len(published) == 1
    uploads.run(sent.pk)
    assert uploads.sweep(sent.heard_at + 2 * SentFile.PATIENCE) == 0


def test_the_order_of_dates_is_asked_once_and_kept(in_farm, machines):
    sent = receive(in_farm, HEAD + "T-01;03.05.2026;10\n")
    assert sent.plan["order"] == ""
    with pytest.raises(FleetError, match="day or the month"):
        start(in_farm, sent)
    start(in_farm, sent, order="dmy")
    in_farm.organisation.refresh_from_db()
    assert in_farm.organisation.date_order == "dmy"
    in_farm.manager.refresh_from_db()
    assert receive(in_farm, HEAD + "T-01;04.05.2026;10\n").plan["order"] == "dmy"


def test_dates_that_tell_their_order_make_no_habit(in_farm, machines):
    start(in_farm, receive(in_farm))
    in_farm.organisation.refresh_from_db()
    assert in_farm.organisation.date_order == ""


def test_setting_aside_and_starting_twice(in_farm, machines):
    sent = receive(in_farm)
    uploads.discard(sent=sent, member=in_farm.manager)
    with pytest.raises(WrongState):
        start(in_farm, sent)
    other = start(in_farm, receive(in_farm))
    with pytest.raises(WrongState):
        start(in_farm, other)
    with pytest.raises(WrongState):
        uploads.discard(sent=other, member=in_farm.manager)


def test_it_takes_the_right_and_the_organisation(in_farm, stranger, machines):
    sent = receive(in_farm)
    for role in ("technician", "counter"):
        with pytest.raises(NotAllowed):
            receive(in_farm, role=role)
        with pytest.raises(NotAllowed):
            start(in_farm, sent, role)
    for process in (
        lambda: start(stranger, sent, "owner"),
        lambda: uploads.discard(sent=sent, member=stranger.owner),
    ):
        with pytest.raises(NotAllowed):
            process()


@pytest.mark.parametrize(
    ("text", "said"), [("", "is empty"), (b"\0\1", "neither"), (b"\xd0\xcf\x11\xe0", "old kind")]
)
def test_a_bad_file_is_one_sentence_beside_its_field_and_leaves_nothing(in_farm, text, said, tmp_path):
    with pytest.raises(FleetError, match=said) as error:
        receive(in_farm, text)
    assert error.value.field == "file"
    assert not SentFile.objects.exists()
    assert not list(tmp_path.rglob("*.*"))


def test_a_full_disk_is_told_and_leaves_nothing(in_farm, monkeypatch):
    def full(*args, **kwargs):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("django.core.files.storage.FileSystemStorage._save", full)
    with pytest.raises(NoRoom, match=r"no room to keep hours\.csv just now") as error:
        receive(in_farm)
    assert error.value.field == "file"
    assert not SentFile.objects.exists()


def test_sending_reads_nothing_but_the_first_bytes(in_farm, machines, monkeypatch):
    """The web worker keeps the file; what opens it is a task."""
    monkeypatch.setattr("fleet.imports.uploads.open_table", lambda *args: 1 / 0)
    sent = send(in_farm)
    assert (sent.state, sent.tries, sent.rows, sent.plan, sent.sample) == ("reading", 0, 0, {}, [])
    with sent.file.open() as kept:
        assert kept.read() == (HEAD + BODY).encode()
    with pytest.raises(WrongState, match="being read already"):
        uploads.start(sent=sent, plan=Plan(0, 1, 2, order="dmy", decimal=","), member=in_farm.manager)


def test_a_page_needs_no_file_once_it_was_read(in_farm, machines):
    sent = receive(in_farm)
    sent.file.storage.delete(sent.file.name)
    assert len(uploads.preview(sent, Plan.kept(sent.plan))) == 4
    assert next(uploads.rejects(sent)) == ["line", "reason", "machine", "date", "hours"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (HEAD, "hours.csv has headings but no rows."),
        (HEAD + '"' + "x" * 200_000, "a cell of more than 131,072 characters from line 2 on"),
        (HEAD + "T-01" + ";x" * 200, "hours.csv has more than 100 columns in line 2."),
        (
            "PK\x03\x04 and no more",
            "hours.csv can't be read as a workbook; save it again as XLSX, or as CSV.",
        ),
    ],
)
def test_what_cannot_be_read_says_why_and_can_be_tried_again_or_set_aside(in_farm, text, said):
    sent = receive(in_farm, text)
    assert sent.state == "unread"
    assert said in sent.fault
    again = inspection.again(sent=sent, member=in_farm.manager)
    assert (again.state, again.tries, again.fault) == ("reading", 0, "")
    with pytest.raises(WrongState):
        inspection.again(sent=sent, member=in_farm.manager)
    inspection.read(sent.pk)
    sent.refresh_from_db()
    assert sent.state == "unread"
    uploads.discard(sent=sent, member=in_farm.manager)
    sent.refresh_from_db()
    assert sent.state == "discarded"


def test_a_file_that_kills_its_worker_is_given_up_after_three_tries(in_farm, machines, monkeypatch):
    sent = send(in_farm)

    def killed(*args):
        raise SystemExit  # nothing catches it, as nothing catches a signal 9

    with monkeypatch.context() as patch:
        patch.setattr("fleet.imports.uploads.open_table", killed)
        for tries in (1, 2, 3):
            with pytest.raises(SystemExit):
                inspection.read(sent.pk)
            sent.refresh_from_db()
            assert (sent.state, sent.tries) == ("reading", tries)
            assert uploads.sweep(sent.heard_at + 2 * SentFile.PATIENCE) == 1
        inspection.read(sent.pk)
    sent.refresh_from_db()
    assert (sent.state, sent.fault) == ("unread", inspection.DIED)
    assert uploads.sweep(sent.heard_at + 2 * SentFile.PATIENCE) == 0
    inspection.again(sent=sent, member=in_farm.manager)
    inspection.read(sent.pk)
    sent.refresh_from_db()
    assert (sent.state, sent.rows) == ("waiting", 4)


@pytest.mark.parametrize(
    ("fault", "said"), [(SoftTimeLimitExceeded(), inspection.TOO_LONG), (MemoryError(), inspection.FAULT)]
)
def test_a_reading_that_takes_too_long_or_too_much_says_so(in_farm, machines, monkeypatch, fault, said):
    def breaks(*args):
        raise fault

    monkeypatch.setattr("fleet.imports.uploads.open_table", breaks)
    sent = receive(in_farm)
    assert (sent.state, sent.fault) == ("unread", said)


def test_reading_a_file_again_takes_the_right_and_the_organisation(in_farm, stranger):
    sent = receive(in_farm, HEAD)
    for member in (in_farm.technician, in_farm.counter, stranger.owner):
        with pytest.raises(NotAllowed):
            inspection.again(sent=sent, member=member)
