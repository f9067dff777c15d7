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
from fleet.imports.column_mapping import Plan, guess, headings, learn_habits, strict
from fleet.imports.rows import (
    Numbered,
    Told,
    body,
    create_machines,
    machine_zones,
    read_table,
    rejected,
    rejects_heading,
    take_table,
)
from fleet.imports.table import Table, open_table
from fleet.models import Organisation


class Command(BaseCommand):
    help = (
        "Import hour readings from a CSV or XLSX file with a column each for machine, date and hours; which "
        "is which is told by its headings and contents. A plain date means noon, a time without a zone the "
        "clock, at the machine's yard. Running it again counts nothing twice."
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
            choices=["dmy", "mdy"],
            help="whether the day or the month comes first, where the file doesn't show it",
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
            plan, rows = _plan(table, known, options["dates"], options["decimal"])
            organisation = known or _made(options["organisation"], options["create_organisation"])
            if options["create_machines"]:
                made = create_machines(table, plan, organisation=organisation, types=types)
                self.stdout.write(f"{len(made):,} machine{pluralize(made)} added.")
            with (
                Rejects(
                    options["rejects"] or path.with_suffix(".rejects.csv"), headings(table.sample, plan)
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


def _plan(
    table: Table, organisation: Organisation | None, dates: str | None, decimal: str | None
) -> tuple[Plan, int]:
    """How the file is read, and how many rows it has. Raises FleetError when the file leaves a question."""
    known = machine_zones(organisation).keys() if organisation else ()
    habit = dates or (organisation.date_order if organisation else "")
    plan = guess(table.sample, known=known)
    rows = Numbered(body(table, plan))
    plan = learn_habits(plan, rows, habit=habit)
    if decimal and not plan.decimal:
        plan = replace(plan, decimal={"point": POINT, "comma": COMMA}[decimal])
    try:
        return strict(plan, table.name), rows.count
    except FleetError as error:
        asked = {"order": " Say so with --dates.", "decimal": " Say so with --decimal."}
        raise FleetError(error.sentence + asked.get(error.field or "", "")) from error


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
