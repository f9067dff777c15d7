"""`manage.py import_readings FILE.csv|.xlsx --organisation SLUG`: take in hour readings from a file."""

import argparse
import sys
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Any, TextIO

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.core.validators import validate_slug
from django.db import transaction
from django.template.defaultfilters import pluralize
from tqdm import tqdm

from fleet.core.csv_writer import lines
from fleet.core.errors import FleetError
from fleet.core.number_reader import COMMA, POINT
from fleet.imports.cell_days import FIRST_DAY, LAST_DAY
from fleet.imports.fleet import Fleet
from fleet.imports.looking import Looked, look_over
from fleet.imports.plan import FIRST, Plan, headings, strict
from fleet.imports.rows import (
    NO,
    YES,
    Told,
    create_machines,
    read_table,
    rejected,
    rejects_heading,
    take_table,
)
from fleet.imports.table import Table, open_table
from fleet.models import Organisation

COLUMNS = {  # the option that names each column
    "machine": "--machine-column",
    "taken_at": "--day-column",
    "hours": "--hours-column",
    "time": "--time-column",
    "minutes": "--minutes-column",
    "note": "--note-column",
}
COLUMN_WORDS = {
    "machine": "machines",
    "taken_at": "days",
    "hours": "hour meter",
    "time": "time of day",
    "minutes": "minutes that belong to the hours",
    "note": "notes",
}
ANSWERS = COLUMNS | {
    "order": "--dates",
    "decimal": "--decimal",
    "year": "--year",
    "within": "--day-within",
    "above": "--blank-as-above",
    "first": "--first-import",
}


class Command(BaseCommand):
    help = (
        "Import hour readings from a CSV or XLSX file. Which column is the meter is told by what it holds "
        "against what the machines showed before; what would have to be guessed is refused, naming the "
        "option that answers. A plain date means noon, a time without a zone the clock, at the machine's "
        "yard. Running it again counts nothing twice."
    )

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the CSV or XLSX file")
        parser.add_argument("--organisation", metavar="SLUG", required=True, help="whose readings they are")
        parser.add_argument(
            "--create-organisation",
            metavar="NAME",
            help="create the organisation, with this name, if it doesn't exist",
        )
        parser.add_argument(
            "--create-machines", action="store_true", help="add the machines that aren't known yet"
        )
        parser.add_argument(
            "--machines",
            metavar="FILE",
            type=Path,
            help="a CSV file with the columns machine, type for the machines to add",
        )
        parser.add_argument(
            "--dates",
            "--order",
            choices=["dmy", "mdy", "ymd"],
            help="whether the day, the month or a year of two figures comes first, where the file doesn't "
            "show it",
        )
        for role, option in COLUMNS.items():
            parser.add_argument(
                option,
                dest=f"{role}_column",
                metavar="COLUMN",
                help=f"the column of the {COLUMN_WORDS[role]}: its heading, or its number from 1",
            )
        parser.add_argument("--year", type=int, metavar="YEAR", help="of dates that name none")
        parser.add_argument(
            "--day-within",
            choices=[FIRST_DAY, LAST_DAY],
            help="which day a month or a year stands for, where the file names no day",
        )
        parser.add_argument(
            "--blank-as-above",
            choices=[YES, NO],
            help="whether a day or a machine that a row leaves blank is that of the row above",
        )
        parser.add_argument(
            "--first-import",
            action="store_true",
            help="the figures of machines without any reading are those of their meters",
        )
        parser.add_argument(
            "--decimal",
            choices=["point", "comma"],
            help="the decimal mark of the hours, where the file doesn't show it",
        )
        parser.add_argument(
            "--rejects",
            metavar="FILE",
            type=Path,
            help="where to write the rows that can't be imported, with line number and reason "
            "(default: beside the file, ending in .rejects.csv)",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        try:
            table = open_table(path, path.name)
            types = _types(options["machines"])
            known = Organisation.objects.filter(slug=options["organisation"]).first()
            found = _look(table, known, options)
            plan, rows = _plan(table, found, options), found.rows
            organisation = known or _made(options["organisation"], options["create_organisation"])
            if options["create_machines"]:
                made = create_machines(table, plan, organisation=organisation, types=types)
                self.stdout.write(f"{len(made):,} machine{pluralize(made)} added.")
            with (
                Rejects(
                    options["rejects"] or path.with_suffix(".rejects.csv"), headings(found.sample, plan)
                ) as rejects,
                tqdm(total=rows, unit=" rows", file=sys.stderr, disable=not sys.stderr.isatty()) as bar,
            ):
                tally = take_table(
                    table, plan, organisation=organisation, reject=rejects.add, progress=bar.update
                )
        except FleetError as error:
            raise CommandError(error.sentence) from error
        self.stdout.write(
            f"{rows:,} row{pluralize(rows)}: {tally['counted']:,} counted, {tally['held']:,} held, "
            f"{tally['duplicate']:,} duplicate{pluralize(tally['duplicate'])}, {tally['refused']:,} rejected."
        )
        if tally["held"]:
            self.stdout.write("Decide about the held ones on the page Held readings.")
        if tally["refused"]:
            self.stdout.write(f"The rejected rows, each with its reason, are in {rejects.path}.")


class Rejects:
    """The file of rejected rows, to be mended and taken in again; made only when there is one to write."""

    def __init__(self, path: Path, names: list[str]) -> None:
        self.path = path
        self._names = names
        self._open = ExitStack()
        self._file: TextIO | None = None

    def __enter__(self) -> "Rejects":
        return self

    def __exit__(self, *exception: object) -> None:
        self._open.close()

    def add(self, told: Told) -> None:
        """Write a row with its line number in the file it came from, and the reason."""
        try:
            rows = [rejected(told, len(self._names))]
            if self._file is None:
                self._file = self._open.enter_context(self.path.open("w", encoding="utf-8", newline=""))
                rows.insert(0, rejects_heading(self._names))
            self._file.writelines(lines(rows))
        except OSError as error:
            raise FleetError(f"{self.path} can't be written: {error.strerror}.") from error


def _look(table: Table, organisation: Organisation | None, options: dict[str, Any]) -> Looked:
    """Look the file over, with the columns that were named. Raises FleetError."""
    habit = options["dates"] or (organisation.date_order if organisation else "")
    fleet = Fleet.of(organisation)
    named = {role: options[f"{role}_column"] for role in COLUMNS if options[f"{role}_column"] is not None}
    found = look_over(table, fleet, habit=habit)
    if not named:
        return found
    names = headings(found.sample, found.plan)
    chosen = {role: _column(name, names, COLUMNS[role], table.name) for role, name in named.items()}
    return look_over(table, fleet, habit=habit, chosen=chosen)


def _column(said: str, names: list[str], option: str, file: str) -> int:
    """The place of a column that was named by its heading, or by its number. Raises FleetError."""
    places = [place for place, name in enumerate(names) if name.strip().lower() == said.strip().lower()]
    if len(places) == 1:
        return places[0]
    if not places and said.isdigit() and 1 <= int(said) <= len(names):
        return int(said) - 1
    which = "more than one column" if places else "no column"
    raise FleetError(f"{file} has {which} {said!r} for {option}; it has: {', '.join(names)}.")


def _plan(table: Table, found: Looked, options: dict[str, Any]) -> Plan:
    """How the file is read. Raises FleetError when it leaves a question, naming the option that answers."""
    plan = found.plan
    if options["dates"] and not plan.order:
        plan = replace(plan, order=options["dates"])
    if options["decimal"] and not plan.decimal:
        plan = replace(plan, decimal={"point": POINT, "comma": COMMA}[options["decimal"]])
    plan = replace(
        plan,
        year=options["year"],
        within=options["day_within"] or "",
        above=options["blank_as_above"] or "",
        first=options["first_import"],
    )
    if options["create_machines"]:  # none of those has a reading
        plan = replace(plan, asks=tuple(dict.fromkeys((*plan.asks, FIRST))))
    try:
        return strict(plan, table.name, headings(found.sample, plan))
    except FleetError as error:
        option = ANSWERS.get(error.field or "")
        said = f"{error.sentence} Say so with {option}." if option else error.sentence
        raise FleetError(said, field=error.field) from error


def _types(path: Path | None) -> dict[str, str]:
    """The type of each machine, by its name in lower case."""
    if path is None:
        return {}
    return {name.lower(): kind for _, (name, kind) in read_table(path, ("machine", "type"))}


def _made(slug: str, name: str | None) -> Organisation:
    if name is None:
        raise FleetError(f"There is no organisation {slug!r}; create it with --create-organisation NAME.")
    try:
        validate_slug(slug)
    except ValidationError:
        raise FleetError(
            f"{slug!r} can't be an organisation's short name; use letters, figures, hyphens and underscores."
        ) from None
    with transaction.atomic():
        return Organisation.objects.create(slug=slug, name=name)
