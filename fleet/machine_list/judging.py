"""A list is judged: each machine that can be added, what is wrong in which cell, and what must be asked."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.number_reader import COMMA, POINT
from fleet.core.squeezed import squeeze
from fleet.imports.cell_days import DAY_FIRST, Days
from fleet.imports.cell_values import Wrong
from fleet.imports.habits import decimals, orders
from fleet.machine_list import answers as answering
from fleet.machine_list import cells
from fleet.machine_list.answers import Answers, Questions
from fleet.machine_list.known import Known
from fleet.machine_list.listing import (
    CONDITION,
    FOR_HIRE,
    HOURS,
    HOURS_BEFORE,
    HOURS_DAY,
    NOTE,
    PIN,
    PRICE,
    SERIAL,
    SINCE,
    TAG,
    Listing,
)
from fleet.machine_list.models_named import NewModel, name_models
from fleet.machine_list.yards_named import NewYard, name_yards
from fleet.models import MachineType, Yard
from fleet.models.machine import PIN as PIN_FORM
from fleet.models.machine import Category, Machine, WorkingCondition

LONGEST_TAG = Machine._meta.get_field("tag").max_length or 0
LONGEST_SERIAL = Machine._meta.get_field("serial").max_length or 0
LONGEST_NOTE = 2000


@dataclass
class Entry:
    """A machine of the list. type, yard: ours, or a new one; None where that is open."""

    number: int
    tag: str
    type: MachineType | NewModel | None = None
    yard: Yard | NewYard | None = None
    serial: str = ""
    pin: str = ""
    hours: Decimal | None = None
    read_at: datetime | None = None
    hours_before: Decimal | None = None
    since: date | None = None
    price: Decimal | None = None
    for_hire: bool = False
    condition: str = WorkingCondition.NORMAL
    note: str = ""

    @property
    def is_attachment(self) -> bool:
        """Whether its model is an attachment."""
        return self.type is not None and self.type.category == Category.ATTACHMENT


@dataclass
class Judged:
    """What became of a list. problems, remarks: of each row, by column. here: rows whose machine we have."""

    entries: list[Entry] = field(default_factory=list)
    problems: dict[int, dict[str, str]] = field(default_factory=dict)
    remarks: dict[int, dict[str, str]] = field(default_factory=dict)
    here: dict[int, str] = field(default_factory=dict)
    left_out: bool = False
    questions: Questions = field(default_factory=Questions)
    open: list[str] = field(default_factory=list)

    @property
    def ready(self) -> bool:
        """Whether every machine of the list can be added."""
        whole = all(entry.type and entry.yard and entry.since for entry in self.entries)
        return bool(self.entries) and whole and not self.problems and not self.open

    def problem(self, number: int, column: str, sentence: str) -> None:
        """Note what is wrong in a cell; the first that is said stands."""
        self.problems.setdefault(number, {}).setdefault(column, sentence)


def judge(table: Listing, answers: Answers, known: Known, *, now: datetime | None = None) -> Judged:
    """Judge a list by what was answered and what the organisation has."""
    now = now or timezone.now()
    judged = Judged()
    rows = table.filled()
    judged.here = {
        number: found.tag
        for number, row in rows
        if squeeze(row.get(TAG, "")) and (found := known.tags.get(squeeze(row[TAG])))
    }
    judged.left_out = answers.leave_known
    rows = [(number, row) for number, row in rows if not (answers.leave_known and number in judged.here)]
    marks = _marks(rows, answers, known, judged)
    in_currency = _in_currency(table, answers, known, judged)
    yards = name_yards(rows, answers, known, judged.questions, judged.problem)
    types = name_models(rows, answers, known, judged.questions, judged.problem)
    for number, row in rows:
        entry = Entry(number, row.get(TAG, ""), types.get(number), yards.get(number))
        yard = entry.yard
        zone = yard.zoneinfo if isinstance(yard, Yard) else ZoneInfo(known.organisation.zone)
        reader = _Reader(number, row, judged)
        _read(entry, reader, replace(marks, zone=zone), known, answers, in_currency, now)
        judged.entries.append(entry)
    _numbers_once(judged, known)
    judged.open = _open(judged.questions, answers, judged.entries)
    return judged


@dataclass
class _Reader:
    """Reads the cells of one row; what can't be read is noted beside its cell."""

    number: int
    row: dict[str, str]
    judged: Judged

    def text(self, column: str) -> str:
        return self.row.get(column, "")

    def wrong(self, column: str, sentence: str) -> None:
        self.judged.problem(self.number, column, sentence)

    def remark(self, column: str, sentence: str) -> None:
        if sentence:
            self.judged.remarks.setdefault(self.number, {})[column] = sentence

    def read(self, column: str, how: Callable[[str], Any], otherwise: Any = None) -> Any:
        if not (text := self.text(column)):
            return otherwise
        try:
            return how(text)
        except Wrong as error:
            self.wrong(column, str(error))
            return otherwise


def _read(
    entry: Entry,
    row: _Reader,
    marks: cells.Marks,
    known: Known,
    answers: Answers,
    in_currency: bool,
    now: datetime,
) -> None:
    _read_numbers(entry, row)
    entry.hours = row.read(HOURS, lambda text: cells.hours(text, marks))
    entry.hours_before = row.read(HOURS_BEFORE, lambda text: cells.hours(text, marks))
    currency = known.organisation.currency
    if in_currency:
        entry.price = row.read(PRICE, lambda text: cells.price(text, marks, currency))
    entry.for_hire = row.read(FOR_HIRE, cells.yes_or_no, False)
    entry.condition = row.read(CONDITION, cells.condition, WorkingCondition.NORMAL)
    entry.note = row.text(NOTE)
    if len(entry.note) > LONGEST_NOTE:
        row.wrong(NOTE, _("Make it shorter: {most} characters at most.").format(most=LONGEST_NOTE))
    _read_days(entry, row, marks, answers, now)


def _read_numbers(entry: Entry, row: _Reader) -> None:
    if not entry.tag:
        row.wrong(TAG, _("Give the fleet number painted on it."))
    elif len(entry.tag) > LONGEST_TAG:
        row.wrong(TAG, _("Make it shorter: {most} characters at most.").format(most=LONGEST_TAG))
    entry.serial = row.text(SERIAL)
    if len(entry.serial) > LONGEST_SERIAL:
        row.wrong(SERIAL, _("Make it shorter: {most} characters at most.").format(most=LONGEST_SERIAL))
    entry.pin = squeeze(row.text(PIN)).upper()
    if entry.pin and not PIN_FORM.fullmatch(entry.pin):
        row.wrong(PIN, _("A PIN has 17 letters and figures. Read the plate again."))


def _read_days(entry: Entry, row: _Reader, marks: cells.Marks, answers: Answers, now: datetime) -> None:
    today = now.astimezone(marks.zone).date()
    if row.text(SINCE):
        found = row.read(SINCE, lambda text: cells.day(text, marks.days))
        if found is not None and not marks.days_open:
            entry.since, remark = found
            row.remark(SINCE, remark)
            if found[0] > today:
                row.wrong(SINCE, _("That day is in the future. Choose an earlier one."))
                entry.since = None
    else:
        row.judged.questions.since.append(entry.number)
        entry.since = today if answers.since_unknown else None
        both = entry.hours_before is not None and entry.hours is not None
        if answers.since_unknown and both and not entry.is_attachment:
            row.wrong(HOURS_BEFORE, _("Give the day it came, too, or leave these hours out."))
    if entry.hours is None:
        return
    entry.read_at = row.read(HOURS_DAY, lambda text: cells.moment(text, marks, now), now)
    if entry.hours_before is not None and entry.hours < entry.hours_before and not marks.decimal_open:
        row.wrong(HOURS, _("These are fewer hours than when it came."))
    if row.text(SINCE) and entry.since is not None and not entry.is_attachment:
        _compare(entry, entry.since, entry.read_at, row, marks)


def _compare(entry: Entry, since: date, read_at: datetime, row: _Reader, marks: cells.Marks) -> None:
    """Note hours that were read before the machine came, or that it can't have run since."""
    start = datetime.combine(since, time(), tzinfo=marks.zone)
    if read_at < start:
        row.wrong(HOURS_DAY, _("That is before it came."))
    elif not (entry.hours is None or entry.hours_before is None or marks.decimal_open):
        ran, clock = float(entry.hours - entry.hours_before), (read_at - start).total_seconds() / 3600
        if ran > clock:
            row.wrong(HOURS, _("Since it came it can't have run that many hours."))


def _marks(
    rows: list[tuple[int, dict[str, str]]], answers: Answers, known: Known, judged: Judged
) -> cells.Marks:
    """By what habits the list writes figures and days: told by its cells, else by answers, else asked."""
    days, figures = orders(), decimals()
    for _number, row in rows:
        for column in (SINCE, HOURS_DAY):
            days.hear(row.get(column, ""))
        for column in (HOURS, HOURS_BEFORE):
            figures.hear(row.get(column, ""))
        figures.hear(cells.figure_of_price(row.get(PRICE, "")))
    order = days.told(known.organisation.date_order)
    if not order:
        judged.questions.order = days.open or next(iter(days.tells.values()))
    decimal = figures.told()
    if not decimal:
        judged.questions.decimal = figures.open or next(iter(figures.tells.values()))
    said = {answering.POINT: POINT, answering.COMMA: COMMA}.get(answers.decimal, "")
    return cells.Marks(
        decimal=decimal or said or POINT,
        answered=bool(said) and not decimal,
        decimal_open=not decimal and not said,
        days_open=not order and not answers.order,
        days=Days(order or answers.order or DAY_FIRST, mixed=days.mixed),
    )


def _in_currency(table: Listing, answers: Answers, known: Known, judged: Judged) -> bool:
    """Whether the prices are in our currency, for all that their heading says."""
    said = cells.currencies_of_heading(table.heads.get(PRICE, ""))
    if said and known.organisation.currency not in said:
        judged.questions.currency = table.heads[PRICE]
        return answers.in_currency
    return True


def _numbers_once(judged: Judged, known: Known) -> None:
    """Note fleet numbers, serial numbers and PINs that stand twice in the list, or are another's here."""
    tags: dict[str, int] = {}
    serials: dict[str, int] = {}
    pins: dict[str, int] = {}
    twice = {
        TAG: _("Row {row} has this fleet number, too."),
        SERIAL: _("Row {row} has this serial number, too."),
        PIN: _("Row {row} has this PIN, too."),
    }
    for entry in judged.entries:
        own = (
            (TAG, squeeze(entry.tag), tags),
            (SERIAL, squeeze(entry.serial), serials),
            (PIN, entry.pin, pins),
        )
        for column, number, seen in own:
            if number and (first := seen.setdefault(number, entry.number)) != entry.number:
                judged.problem(entry.number, column, twice[column].format(row=first))
        if entry.number in judged.here:
            said = _("{tag} is here already.").format(tag=judged.here[entry.number])
            judged.problem(entry.number, TAG, said)
            continue
        if entry.serial and (other := known.serials.get(squeeze(entry.serial))):
            said = _("{machine} has this serial number. Read the plate again.").format(machine=other.tag)
            judged.problem(entry.number, SERIAL, said)
        if entry.pin and (other := known.pins.get(entry.pin)):
            said = _("{machine} has this identification number. Read the plate again.").format(
                machine=other.tag
            )
            judged.problem(entry.number, PIN, said)


def _open(asked: Questions, answers: Answers, entries: list[Entry]) -> list[str]:
    """The questions that nobody has answered, by name."""
    unanswered = {
        "order": bool(asked.order) and not answers.order,
        "decimal": bool(asked.decimal) and not answers.decimal,
        "since": bool(asked.since) and not answers.since_unknown,
        "currency": bool(asked.currency) and not answers.in_currency,
        "unnamed": any(entry.yard is None for entry in entries if entry.number in asked.unnamed),
        "yards": any(not each.answer for each in asked.yards),
        "models": any(not each.settled for each in asked.models),
    }
    return [name for name, is_open in unanswered.items() if is_open]
