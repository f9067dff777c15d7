"""Hour readings from a table in a file: each row handed in by the one door, or rejected with a reason."""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, tzinfo
from itertools import islice
from pathlib import Path

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import pgettext
from django_scopes import scope

from fleet import readings
from fleet.core.errors import FleetError
from fleet.imports.cell_days import read_moment
from fleet.imports.cell_values import Wrong, read_number, short
from fleet.imports.column_mapping import machine_of
from fleet.imports.columns import day_kind, is_number
from fleet.imports.contradictions import contradicted, doubts_of
from fleet.imports.fleet import Fleet, Known
from fleet.imports.headings import DAY, MACHINE, is_total, kinds, normal
from fleet.imports.layout import ordinary
from fleet.imports.plan import Plan
from fleet.imports.table import Cell, FileRow, Table, as_text, open_table
from fleet.imports.units import is_other
from fleet.models import Machine, MachineType, Member, MeterSegment, Organisation, Reading, Yard
from fleet.models.machine import Category
from fleet.readings.submission import REFUSED, Receipt, Submitted, Unreadable, read_hours
from fleet.readings.submission import read_moment as read_utc

ROWS_AT_ONCE = 1000
HEADED = {DAY, MACHINE}
YES, NO = "yes", "no"
DITTO = frozenset(
    {'"', "''", "”", "″", "„", "ditto", "do", "do.", "dto", "dto.", "idem", "id.", '-"-', "s.o."}
)
UNKNOWN_TYPE = "Unknown type"
LONGEST_TAG = Machine._meta.get_field("tag").max_length or 0
LONGEST_NAME = MachineType._meta.get_field("model").max_length or 0  # and of a maker's
LONGEST_SENDER = Reading._meta.get_field("sender").max_length


@dataclass(frozen=True, slots=True)
class Told:
    """What became of one row of a file: what was handed in and its receipt, or why nothing was."""

    row: FileRow
    sent: Submitted | None
    receipt: Receipt | None
    reason: str

    @property
    def state(self) -> str:
        """counted, held, duplicate or refused."""
        return REFUSED if self.receipt is None else self.receipt.state

    @property
    def texts(self) -> list[str]:
        """Its cells as they stood in the file."""
        return [as_text(cell) for cell in self.row.cells]


def body(table: Table, plan: Plan, *, after: int = 0) -> Iterator[FileRow]:
    """The ordinary rows below the heading, without the first `after` of them."""
    rows = table.rows() if plan.layout is None else ordinary(table, plan.layout)
    if plan.heading:
        rows = below(next(rows, None), rows, plan)
    return islice(as_above(rows, plan) if plan.above == YES else rows, after, None)


def below(head: FileRow | None, rows: Iterable[FileRow], plan: Plan) -> Iterator[FileRow]:
    """The rows that stand below these headings; those below others, and those that overflow, are refused.

    A decimal comma that parts columns makes a row longer than its headings, and its hours a whole number.
    """
    if head is None:
        return
    names = [normal(as_text(cell)) for cell in head.cells]
    most = len(names) if plan.layout is None else len(plan.layout.names)
    width = None if plan.layout is None else plan.layout.width
    strange = sheet = ""
    for row in rows:
        if row.sheet != sheet:
            sheet, strange = row.sheet, ""
        if not row.wrong and _is_heading(row, plan):
            same = [normal(as_text(cell)) for cell in row.cells][: len(names)] == names[: len(row.cells)]
            strange = "" if same else _("This row stands below other headings than the first.")
        grouped = plan.layout is not None and plan.layout.groups
        if strange and not row.wrong:
            yield replace(row, wrong=strange)
        elif not grouped and any(map(_is_fraction, row.cells[most:width])):
            said = _("This row has more cells than there are headings. Does a decimal comma part it?")
            yield replace(row, wrong=row.wrong or said)
        else:
            yield row


def _is_heading(row: FileRow, plan: Plan) -> bool:
    """Whether a row holds headings where others hold a day and hours."""
    day, hours = plan.cell(row, "taken_at"), plan.cell(row, "hours")
    if not (isinstance(day, str) or isinstance(hours, str)) or is_number(hours) or day_kind(day):
        return False
    said = [kinds(normal(cell)) for cell in row.cells if isinstance(cell, str) and cell]
    return sum(bool(each) for each in said) > 1 and any(each & HEADED for each in said)


def _is_fraction(cell: Cell) -> bool:
    return isinstance(cell, str) and re.fullmatch(r"\d{1,2}", cell) is not None


def as_above(rows: Iterable[FileRow], plan: Plan) -> Iterator[FileRow]:
    """The rows, a day or a machine that one leaves blank filled in from the row above; not both."""
    last: dict[int, Cell] = {}
    sheet = ""
    for row in rows:
        if row.sheet != sheet:
            sheet, last = row.sheet, {}
        cells = list(row.cells)
        if is_blank(plan.cell(row, "hours")) or adds_up(row, plan):
            yield row
            continue
        both = all(is_blank(plan.cell(row, role)) for role in ("machine", "taken_at"))
        for place in () if both else (plan.machine, plan.taken_at):
            if place is None:
                continue
            cells += [None] * (place + 1 - len(cells))
            if is_blank(cells[place]):
                cells[place] = last.get(place)
            else:
                last[place] = cells[place]
        yield replace(row, cells=cells)


def is_blank(cell: Cell) -> bool:
    """Whether a cell says nothing, or that it is as the one above."""
    return cell in (None, "") or (isinstance(cell, str) and cell.strip().lower() in DITTO)


def batches(rows: Iterable[FileRow]) -> Iterator[list[FileRow]]:
    """The rows in lots that are taken in at once."""
    walk = iter(rows)
    while lot := list(islice(walk, ROWS_AT_ONCE)):
        yield lot


def take_rows(
    rows: Sequence[FileRow],
    *,
    plan: Plan,
    fleet: Fleet,
    organisation: Organisation,
    name: str,
    member: Member | None = None,
    now: datetime | None = None,
) -> list[Told]:
    """Hand rows in; tell of each what became of it. fleet: the machines. name: the file's.

    A plain date means noon, and a time without a zone means the clock, at the machine's yard. The same rows
    handed in again count nothing twice.
    """
    sent: dict[int, Submitted] = {}
    wrong: dict[int, str] = {}
    for number, row in enumerate(rows):
        try:
            sent[number] = _submitted(row, plan, fleet)
        except Wrong as error:
            wrong[number] = str(error)
    receipts = readings.take(
        organisation=organisation,
        rows=list(sent.values()),
        source=Reading.Source.FILE,
        sender=name[:LONGEST_SENDER],
        member=member,
        now=now,
    )
    by_number = dict(zip(sent, receipts, strict=True))
    return [
        Told(
            row,
            sent.get(number),
            by_number.get(number),
            wrong[number] if number in wrong else by_number[number].reason,
        )
        for number, row in enumerate(rows)
    ]


def take_table(
    table: Table,
    plan: Plan,
    *,
    organisation: Organisation,
    reject: Callable[[Told], None],
    progress: Callable[[int], object] = lambda rows: None,
) -> dict[str, int]:
    """Take a whole table in; return how many rows were counted, held, duplicate and refused.

    `reject` is told each refused row, `progress` the number of rows after each batch.
    """
    tally = {"counted": 0, "held": 0, "duplicate": 0, "refused": 0}
    fleet = Fleet.of(organisation)
    doubts = doubts_of(lambda: body(table, plan), plan, fleet)
    for lot in batches(contradicted(body(table, plan), doubts)):
        for told in take_rows(lot, plan=plan, fleet=fleet, organisation=organisation, name=table.name):
            tally[told.state] += 1
            if told.state == REFUSED:
                reject(told)
        progress(len(lot))
    return tally


def rejects_heading(names: Sequence[str]) -> list[str]:
    """The heading of a file of rejected rows: line and reason, then the columns as they were."""
    line, reason = (
        pgettext("a column of rejected rows", "line"),
        pgettext("a column of rejected rows", "reason"),
    )
    return [line, reason, *names]


def rejected(told: Told, width: int) -> list[str]:
    """A row of that file, under a heading of so many original columns."""
    cells = [as_text(cell) for cell in told.row.cells]
    return [where(told.row.line, told.row.sheet), told.reason, *cells, *[""] * (width - len(cells))]


def where(line: int, sheet: str) -> str:
    """Where a row stands: its line, after its sheet where several are read."""
    return f"{sheet}!{line}" if sheet else str(line)


def create_machines(
    table: Table, plan: Plan, *, organisation: Organisation, types: dict[str, str] | None = None
) -> list[Machine]:
    """Make the machines that the file names and the organisation doesn't have; return them.

    Each is in service since its first reading in the file, stands in the organisation's first yard (made when
    there is none), has no price, and is of the type that `types` names for it (by machine, in lower case).
    A name with no readable reading, or too long for a tag, makes none.
    """
    with scope(organisation=organisation), transaction.atomic():
        yard = Yard.objects.filter(organisation=organisation).order_by("pk").first()
        if yard is None:
            yard = Yard.objects.create(organisation=organisation, name=_("Main yard"))
        yard.organisation = organisation
        fleet = Fleet.of(organisation)
        first: dict[str, tuple[str, datetime]] = {}
        for row in body(table, plan):
            name = as_text(plan.cell(row, "machine"))
            key = name.lower()
            if not key or machine_of(plan, name, fleet) or is_total(name) or len(name) > LONGEST_TAG:
                continue
            try:
                sent = _submitted(row, plan.confirmed(), Fleet([Known(0, name, zone=yard.zoneinfo)]))
                taken_at = read_utc(sent.taken_at)
                read_hours(sent.shows)
            except (Wrong, Unreadable):
                continue
            if key not in first or taken_at < first[key][1]:
                first[key] = (name, taken_at)
        named = {key: (types or {}).get(key) or UNKNOWN_TYPE for key in first}
        machine_types = _types(organisation, set(named.values()))
        machines = Machine.objects.bulk_create(
            Machine(
                organisation=organisation,
                type=machine_types[named[key].lower()],
                yard=yard,
                tag=tag,
                in_service_on=taken_at.astimezone(yard.zoneinfo).date(),
            )
            for key, (tag, taken_at) in first.items()
        )
        MeterSegment.objects.bulk_create(
            MeterSegment(organisation=organisation, machine=machine, started_at=taken_at)
            for machine, (_tag, taken_at) in zip(machines, first.values(), strict=True)
        )
    return machines


def read_table(path: Path, columns: tuple[str, ...]) -> Iterator[tuple[int, list[str]]]:
    """Yield line number and the named columns, trimmed, of each row below the heading that isn't blank.

    The file may be whatever `open_table` opens, and is read within the same limits. Raises FleetError when it
    can't be read, or lacks a column.
    """
    table = open_table(path, str(path))
    rows = table.rows()
    heads = [as_text(head).lower() for head in next(rows).cells]
    missing = [column for column in columns if column not in heads]
    if missing:
        said = _("{name} has no column {missing}; its first line must name {needed}.")
        raise FleetError(said.format(name=path, missing=", ".join(missing), needed=", ".join(columns)))
    places = [heads.index(column) for column in columns]
    for row in rows:
        cells = [as_text(row.cells[place]) if place < len(row.cells) else "" for place in places]
        yield row.line, cells


def _submitted(row: FileRow, plan: Plan, fleet: Fleet) -> Submitted:
    """The row as it is handed in. Raises Wrong."""
    if row.wrong:
        raise Wrong(row.wrong)
    if is_other(unit := plan.unit_of(row)):
        raise Wrong(_("Its figure is in {unit}, not in hours.").format(unit=as_text(unit)))
    name = as_text(plan.cell(row, "machine"))
    _no_total(row, plan)
    if not name:
        raise Wrong(_("The machine is missing."))
    machine = machine_of(plan, name, fleet)
    if machine is None and len(several := fleet.meant(name)) > 1:
        said = _("“{name}” may be {machines}. Write the whole number.")
        tags = ", ".join(each.tag for each in several[:5])
        raise Wrong(said.format(name=short(name), machines=tags))
    zone: tzinfo = machine.zone if machine else UTC
    sent = Submitted(
        machine=machine.pk if machine else name,
        taken_at=read_moment(plan.cell(row, "taken_at"), plan.cell(row, "time"), plan.days, zone),
        shows=read_number(plan.cell(row, "hours"), plan.decimal, **plan.parts(row)),
        note=as_text(plan.cell(row, "note")),
    )
    if machine and machine.last_at is None and not plan.first:
        said = _("{machine} has no reading yet, and nobody confirmed that this is its meter.")
        raise Wrong(said.format(machine=machine.tag))
    return sent


def _no_total(row: FileRow, plan: Plan) -> None:
    """Raise Wrong for a row that adds up others."""
    if adds_up(row, plan):
        raise Wrong(_("This row is a total, not a reading."))


def adds_up(row: FileRow, plan: Plan) -> bool:
    """Whether a row says that it adds up others."""
    first = next((cell for cell in row.cells if cell not in (None, "")), None)
    cells = (first, plan.cell(row, "machine"), plan.cell(row, "taken_at"))
    return any(isinstance(cell, str) and is_total(cell) for cell in cells)


def _types(organisation: Organisation, names: set[str]) -> dict[str, MachineType]:
    """The machine types of these names ('maker model'), made where missing; by name in lower case.

    Raises FleetError for a name too long to keep.
    """
    types = {str(kind).lower(): kind for kind in MachineType.objects.filter(organisation=organisation)}
    for name in sorted(names):
        if name.lower() not in types:
            maker, _blank, model = name.partition(" ") if " " in name else ("Unknown", " ", name)
            if max(len(maker), len(model)) > LONGEST_NAME:
                said = _("“{name}…” is too long for a make and model; each has at most {most} characters.")
                raise FleetError(said.format(name=name[:60], most=LONGEST_NAME))
            same = types.get(f"{maker} {model}".lower())
            types[name.lower()] = same or MachineType.objects.create(
                organisation=organisation, maker=maker, model=model, category=Category.OTHER
            )
    return types
