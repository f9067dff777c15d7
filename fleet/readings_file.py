"""Hour readings from a CSV file: `machine,taken_at,hours`, a row each."""

import csv
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, tzinfo
from pathlib import Path
from typing import TextIO
from zoneinfo import ZoneInfo

from django.db import transaction
from django_scopes import scope

from fleet import readings
from fleet.errors import FleetError
from fleet.models import Machine, MachineType, MeterSegment, Organisation, Reading, Yard
from fleet.models.machine import Category
from fleet.submitted import REFUSED, Submitted, Unreadable, read_hours, read_moment

COLUMNS = ("machine", "taken_at", "hours")
ROWS_AT_ONCE = 2000
UNKNOWN_TYPE = "Unknown type"
LONGEST_TAG = Machine._meta.get_field("tag").max_length


@dataclass(frozen=True, slots=True)
class Line:
    """One row as it stands in the file, and the number of the line it ends on."""

    number: int
    machine: str
    taken_at: str
    hours: str


class ReadingsFile:
    """A CSV file of readings. Raises FleetError, on opening, when it can't be read as one."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.rows = sum(1 for _ in read_table(path, COLUMNS))

    def lines(self) -> Iterator[Line]:
        """The rows in the order of the file."""
        for number, row in read_table(self.path, COLUMNS):
            yield Line(number, *row)


def read_table(path: Path, columns: tuple[str, ...]) -> Iterator[tuple[int, list[str]]]:
    """Yield line number and the named columns, trimmed, of each row that isn't blank.

    Raises FleetError when the file can't be opened, isn't UTF-8 text or CSV, or lacks a column.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            yield from _rows(file, path, columns)
    except OSError as error:
        raise FleetError(f"{path} can't be read: {error.strerror}.") from error
    except UnicodeDecodeError as error:
        raise FleetError(f"{path} is not UTF-8 text; save it as CSV UTF-8.") from error
    except csv.Error as error:
        raise FleetError(f"{path} can't be read as CSV: {error}.") from error


def _rows(file: TextIO, path: Path, columns: tuple[str, ...]) -> Iterator[tuple[int, list[str]]]:
    table = csv.reader(file)
    heads = [head.strip().lower() for head in next(table, [])]
    missing = [column for column in columns if column not in heads]
    if missing:
        raise FleetError(
            f"{path} has no column {', '.join(missing)}; its first line must name {', '.join(columns)}."
        )
    places = [heads.index(column) for column in columns]
    for row in table:
        if any(cell.strip() for cell in row):
            yield table.line_num, [row[place].strip() if place < len(row) else "" for place in places]


def take_file(
    file: ReadingsFile,
    *,
    organisation: Organisation,
    reject: Callable[[Line, str], None],
    progress: Callable[[int], object] = lambda rows: None,
    now: datetime | None = None,
) -> dict[str, int]:
    """Take in a file's readings; return how many rows were counted, held, duplicate and refused.

    A plain date means noon, and a time without a zone means the clock, at the machine's yard. `reject` is
    told each refused line with the reason, `progress` the number of rows after each batch. Running it again
    counts nothing twice.
    """
    tally = {"counted": 0, "held": 0, "duplicate": 0, "refused": 0}
    zones = _zones(organisation)
    batch: list[Line] = []

    def take() -> None:
        receipts = readings.take(
            organisation=organisation,
            rows=[
                Submitted(
                    line.machine, moment(line.taken_at, zones.get(line.machine.lower(), UTC)), line.hours
                )
                for line in batch
            ],
            source=Reading.Source.FILE,
            sender=file.path.name,
            now=now,
        )
        for line, receipt in zip(batch, receipts, strict=True):
            tally[receipt.state] += 1
            if receipt.state == REFUSED:
                reject(line, receipt.reason)
        progress(len(batch))
        batch.clear()

    for line in file.lines():
        batch.append(line)
        if len(batch) == ROWS_AT_ONCE:
            take()
    if batch:
        take()
    return tally


def create_machines(
    file: ReadingsFile, *, organisation: Organisation, types: dict[str, str] | None = None
) -> list[Machine]:
    """Make the machines that the file names and the organisation doesn't have; return them.

    Each is in service since its first reading in the file, stands in the organisation's first yard (made when
    there is none), has no price, and is of the type that `types` names for it (by machine, in lower case).
    A name with no readable reading, or too long for a tag, makes none.
    """
    with scope(organisation=organisation), transaction.atomic():
        yard = Yard.objects.filter(organisation=organisation).order_by("pk").first()
        if yard is None:
            yard = Yard.objects.create(organisation=organisation, name="Main yard")
        yard.organisation = organisation
        known = _zones(organisation)
        first: dict[str, tuple[str, datetime]] = {}
        for line in file.lines():
            key = line.machine.lower()
            if not key or key in known or len(line.machine) > LONGEST_TAG:
                continue
            try:
                taken_at = read_moment(moment(line.taken_at, yard.zoneinfo))
                read_hours(line.hours)
            except Unreadable:
                continue
            if key not in first or taken_at < first[key][1]:
                first[key] = (line.machine, taken_at)
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
            for machine, (_, taken_at) in zip(machines, first.values(), strict=True)
        )
    return machines


def moment(text: str, zone: tzinfo) -> datetime | str:
    """Return the moment a file means: a plain date is noon, a time without a zone is the yard's clock.

    What can't be read is returned as it stands, for `readings.take` to refuse.
    """
    try:
        if len(text) == len("2026-05-03"):
            return datetime.combine(date.fromisoformat(text), time(12), zone)
        read = datetime.fromisoformat(text)
    except ValueError:
        return text
    return read if read.tzinfo else read.replace(tzinfo=zone)


def _zones(organisation: Organisation) -> dict[str, ZoneInfo]:
    """The zone of each machine's yard, by the machine's tag and serial number in lower case."""
    zones: dict[str, ZoneInfo] = {}
    with scope(organisation=organisation):
        machines = Machine.objects.filter(organisation=organisation).select_related("yard__organisation")
        for machine in machines:
            if machine.serial:
                zones.setdefault(machine.serial.lower(), machine.zoneinfo)
        for machine in machines:
            zones[machine.tag.lower()] = machine.zoneinfo
    return zones


def _types(organisation: Organisation, names: set[str]) -> dict[str, MachineType]:
    """The machine types of these names ('maker model'), made where missing; by name in lower case."""
    types = {str(kind).lower(): kind for kind in MachineType.objects.filter(organisation=organisation)}
    for name in sorted(names):
        if name.lower() not in types:
            maker, _, model = name.partition(" ") if " " in name else ("Unknown", " ", name)
            same = types.get(f"{maker} {model}".lower())
            types[name.lower()] = same or MachineType.objects.create(
                organisation=organisation, maker=maker[:80], model=model[:80], category=Category.OTHER
            )
    return types
