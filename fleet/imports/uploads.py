"""A file of readings on its way: received, taken in by lots, its rejects given back."""

import logging
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path, PurePath
from typing import IO

from celery.exceptions import SoftTimeLimitExceeded
from django.core.files.uploadedfile import UploadedFile
from django.db import OperationalError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.core.csv_writer import as_file
from fleet.core.errors import FleetError, NoRoom
from fleet.core.languages import spoken_to
from fleet.core.permission import require
from fleet.core.queue import publish_on_commit
from fleet.imports import sample
from fleet.imports.column_mapping import learn_habits
from fleet.imports.contradictions import contradicted, doubts_of
from fleet.imports.first_readings import Course, courses
from fleet.imports.fleet import Fleet
from fleet.imports.looking import asks_of
from fleet.imports.plan import FIRST, Plan, headings, strict
from fleet.imports.rows import YES, Told, as_above, batches, body, rejects_heading, take_rows, where
from fleet.imports.table import START, FileRow, Table, as_text, check_size, check_start, open_table
from fleet.models import Member, Organisation, RejectedRow, SentFile
from fleet.readings.submission import REFUSED
from fleet.usage.figures import POINT

log = logging.getLogger(__name__)

SHOWN = 10  # rows of the preview
LONGEST_TITLE = RejectedRow._meta.get_field("sheet").max_length
READING, UNREAD = SentFile.State.READING, SentFile.State.UNREAD
WAITING, RUNNING = SentFile.State.WAITING, SentFile.State.RUNNING
DONE, FAILED = SentFile.State.DONE, SentFile.State.FAILED
TAKE_IN = gettext_lazy("import readings from files")
BROKEN_OFF = gettext_lazy(
    "The import stopped on an error, which is in the log. Nothing is lost or counted twice."
)


def receive(*, upload: UploadedFile, member: Member) -> SentFile:
    """Keep a file that was sent, and have a worker look at it (`inspection`). No reading is taken in.

    Raises NotAllowed; FleetError on `file` when it is too large, begins like no table, or can't be kept.
    """
    require(member, "manage_fleet", TAKE_IN)
    name = PurePath((upload.name or "file").replace("\0", "")).name[:200]
    sent = SentFile(organisation=member.organisation, name=name, sent_by=member, heard_at=timezone.now())
    try:
        check_size(upload.size or 0, name)
        check_start(upload.read(START), name)
        upload.seek(0)
        sent.file.save("file", upload, save=False)
    except NoRoom as error:
        said = _("There is no room to keep {name} just now. Send it again later.")
        raise NoRoom(said.format(name=name), field="file") from error
    except FleetError as error:
        raise FleetError(error.sentence, field="file") from error
    except OSError as error:
        said = _("{name} can't be saved just now: {why}. Try again later.")
        raise FleetError(said.format(name=name, why=error.strerror), field="file") from error
    with transaction.atomic():
        sent.save()
        publish(sent)
    return sent


def preview(sent: SentFile, plan: Plan) -> list[Told]:
    """Tell what would become of the first rows, as they were kept; nothing is taken in."""
    if plan.open:
        return []
    fleet, rows = Fleet.of(sent.organisation), first_rows(sent, plan)
    rows = list(contradicted(rows, doubts_of(lambda: rows, plan, fleet)))
    with transaction.atomic():
        told = take_rows(
            rows[:SHOWN],
            plan=plan.confirmed(),
            fleet=fleet,
            organisation=sent.organisation,
            name=sent.name,
        )
        transaction.set_rollback(True)
    return told


def first_rows(sent: SentFile, plan: Plan) -> list[FileRow]:
    """The first rows below the headings, as they were kept."""
    rows = sample.kept(sent.sample)[plan.heading :]
    return list(as_above(rows, plan)) if plan.above == YES else rows


def plan_of(sent: SentFile) -> Plan:
    """How a file that waits is read, and what it asks; one that came in before asks by its first rows."""
    plan = Plan.kept(sent.plan)
    if "asks" in sent.plan:
        return plan
    rows = sample.kept(sent.sample)[plan.heading :]
    return replace(plan, asks=asks_of(plan, rows, Fleet.of(sent.organisation)))


def first_courses(sent: SentFile, plan: Plan) -> list[Course]:
    """What would be counted of machines that have no reading yet, by the rows that were kept of them."""
    if plan.open or FIRST not in plan.asks:
        return []
    return courses(plan, _firsts(sent, plan), Fleet.of(sent.organisation))


def _firsts(sent: SentFile, plan: Plan) -> list[FileRow]:
    return sample.kept(sent.firsts) or first_rows(sent, plan)


def with_columns(sent: SentFile, plan: Plan) -> Plan:
    """The plan with other columns, its habits and questions told anew by the rows that were kept."""
    rows = [*sample.kept(sent.sample)[plan.heading :], *sample.kept(sent.firsts)]
    plan = learn_habits(plan, rows, habit=sent.organisation.date_order)
    asked = {*asks_of(plan, rows, Fleet.of(sent.organisation)), *(set(Plan.kept(sent.plan).asks) & {FIRST})}
    return replace(plan, asks=tuple(sorted(asked)), first=False)


def start(*, sent: SentFile, plan: Plan, member: Member) -> SentFile:
    """Have the file taken in as the plan says, or go on with one that was broken off.

    Where the order of day and month had to be asked, the answer is kept as the organisation's habit. Raises
    NotAllowed; WrongState when the file is on its way or done; FleetError when the plan leaves a question.
    """
    require(member, "manage_fleet", TAKE_IN, sent)
    strict(plan, sent.name, headings(sample.kept(sent.sample), plan))
    now = timezone.now()
    with transaction.atomic():
        sent = sent.locked(WAITING, FAILED)
        if sent.state == FAILED:
            plan = Plan.kept(sent.plan)  # what is left goes in the way the rest did
            if "first" not in sent.plan:
                plan = plan.confirmed()
        guessed = Plan.kept(sent.plan)
        sent.rows += guessed.heading - plan.heading
        sent.plan, sent.state, sent.heard_at = plan.to_keep(), RUNNING, now
        sent.fault = ""
        sent.save(update_fields=["plan", "state", "heard_at", "rows", "fault"])
        asked = not guessed.order and not guessed.mixed
        if asked and plan.order in Organisation.DateOrder:
            Organisation.objects.filter(pk=sent.organisation_id, date_order="").update(date_order=plan.order)
        publish(sent)
    return sent


def discard(*, sent: SentFile, member: Member) -> None:
    """Set a file aside of which nothing was taken in; what was sent is thrown away.

    Raises NotAllowed, WrongState.
    """
    require(member, "manage_fleet", TAKE_IN, sent)
    with transaction.atomic():
        sent = sent.locked(READING, UNREAD, WAITING)
        sent.state, sent.ended_at = SentFile.State.DISCARDED, timezone.now()
        sent.save(update_fields=["state", "ended_at"])
        transaction.on_commit(lambda: sent.file.delete(save=False), robust=True)


def run(sent_id: int) -> None:
    """Take in what is left of a file; one that can't be is marked as broken off.

    Each batch of rows, its rejects and how far the file has come are one transaction: whoever dies in between
    leaves the file as after its last batch, and whoever runs it again, or at the same time, doubles nothing.
    """
    sent = SentFile.objects.select_related("organisation", "sent_by__user").get(pk=sent_id)
    if SentFile.objects.unsampled().filter(pk=sent.pk).exists():
        _keep_sample(sent)
    if sent.state == RUNNING:
        with for_sender(sent):
            _run(sent)


def _run(sent: SentFile) -> None:
    plan = Plan.kept(sent.plan)
    if "first" not in sent.plan:  # it was begun before first readings had to be confirmed
        plan = plan.confirmed()
    try:
        fleet = Fleet.of(sent.organisation)
        with opened(sent) as table:
            at = sent.done
            doubts = doubts_of(lambda: body(table, plan), plan, fleet)
            for lot in batches(contradicted(body(table, plan, after=at), doubts)):
                if not _take(sent, lot, at, plan, fleet):
                    return
                at += len(lot)
        _end(sent, at, DONE, "")
    except FleetError as error:
        _end(sent, None, FAILED, error.sentence)
    except (OperationalError, SoftTimeLimitExceeded):
        raise  # the sweep goes on with it
    except Exception:
        log.exception("file %s can't be imported", sent.pk)
        _end(sent, None, FAILED, str(BROKEN_OFF))


def sweep(now: datetime | None = None) -> int:
    """Hand files again to the queue whose worker died or never got word; return how many.

    So are those that came in before their first rows were kept: these are read from them once.
    """
    now = now or timezone.now()
    wanting = list(SentFile.objects.stuck(now) | SentFile.objects.unsampled())
    for sent in wanting:
        publish(sent)
    return len(wanting)


def rejects(sent: SentFile) -> Iterator[list[str]]:
    """The rows of the file of rejects: line and reason, then the original columns; the heading first."""
    names = headings(sample.kept(sent.sample), Plan.kept(sent.plan))
    yield rejects_heading(names)
    for row in RejectedRow.objects.filter(file=sent).iterator():
        yield [where(row.line, row.sheet), row.reason, *row.cells, *[""] * (len(names) - len(row.cells))]


def rejects_csv(sent: SentFile, decimal_mark: str = POINT) -> Iterator[bytes]:
    """The file of rejects as CSV, piece by piece; it can be mended and sent again as it is.

    Its cells stay as they came; who writes a decimal comma gets semicolons between them.
    """
    return as_file(rejects(sent), decimal_mark=decimal_mark)


@contextmanager
def opened(sent: SentFile) -> Iterator[Table]:
    """The file as a table. Raises FleetError when it can't be read any more."""
    try:
        file: IO[bytes] = sent.file.open("rb")
    except OSError as error:
        said = _("{name} is not there any more; send it again.").format(name=sent.name)
        raise FleetError(said) from error
    file.close()
    yield open_table(Path(sent.file.path), sent.name)


def for_sender(sent: SentFile) -> AbstractContextManager[None]:
    """Speak to who sent a file: what a worker keeps of it is read by them."""
    return spoken_to(sent.sent_by.user if sent.sent_by else None)


def _keep_sample(sent: SentFile) -> None:
    """Keep the first rows of a file that came in before they were, each try counted before it begins."""
    SentFile.objects.filter(pk=sent.pk).update(tries=sent.tries + 1)
    try:
        with opened(sent) as table:
            SentFile.objects.filter(pk=sent.pk).update(sample=sample.to_keep(table.sample))
    except FleetError as error:
        log.warning("file %s: its headings can't be read any more: %s", sent.pk, error.sentence)


def _take(sent: SentFile, lot: list[FileRow], at: int, plan: Plan, fleet: Fleet) -> bool:
    """Take one batch in; return False when another worker has come further."""
    with transaction.atomic():
        now = SentFile.objects.select_for_update().get(pk=sent.pk)
        if now.state != RUNNING or now.done != at:
            return False
        told = take_rows(
            lot,
            plan=plan,
            fleet=fleet,
            organisation=sent.organisation,
            name=sent.name,
            member=sent.sent_by,
        )
        RejectedRow.objects.bulk_create(
            RejectedRow(
                organisation_id=sent.organisation_id,
                file=sent,
                sheet=each.row.sheet[:LONGEST_TITLE],
                line=each.row.line,
                place=each.row.place,
                reason=each.reason,
                cells=[as_text(cell) for cell in each.row.cells],
            )
            for each in told
            if each.state == REFUSED
        )
        for each in told:
            setattr(now, each.state, getattr(now, each.state) + 1)
        now.done, now.heard_at = at + len(lot), timezone.now()
        now.save(update_fields=["done", "heard_at", "counted", "held", "duplicate", "refused"])
    return True


def _end(sent: SentFile, at: int | None, state: str, fault: str) -> None:
    ending = SentFile.objects.filter(pk=sent.pk, state=RUNNING)
    if at is not None:
        ending = ending.filter(done=at)
    ending.update(state=state, fault=fault, ended_at=timezone.now())


def publish(sent: SentFile) -> None:
    """Queue what is to be done with the file next, once the open transaction has committed."""
    publish_on_commit(
        "fleet.tasks.read_file" if sent.state == READING else "fleet.tasks.take_file",
        sent_id=sent.pk,
        organisation_id=sent.organisation_id,
    )
