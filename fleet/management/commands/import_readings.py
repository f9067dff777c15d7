"""`manage.py import_readings FILE.csv --organisation SLUG`: take in hour readings from a file."""

import argparse
import csv
import sys
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.core.validators import validate_slug
from django.db import transaction
from tqdm import tqdm

from fleet.errors import FleetError
from fleet.models import Organisation
from fleet.readings_file import Line, ReadingsFile, create_machines, read_table, take_file


class Command(BaseCommand):
    help = (
        "Take in hour readings from a CSV file with the columns machine, taken_at, hours. "
        "A plain date means noon, a time without a zone the clock, at the machine's yard. "
        "Running it again counts nothing twice."
    )

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the CSV file, in UTF-8")
        parser.add_argument("--organisation", metavar="SLUG", required=True, help="whose readings they are")
        parser.add_argument(
            "--create-organisation",
            metavar="NAME",
            help="make the organisation, with this name, if there is none",
        )
        parser.add_argument(
            "--create-machines", action="store_true", help="make the machines that aren't known yet"
        )
        parser.add_argument(
            "--machines",
            metavar="FILE",
            type=Path,
            help="a CSV file with the columns machine, type for the machines to make",
        )
        parser.add_argument(
            "--rejects",
            metavar="FILE",
            type=Path,
            help="where to write the rows that can't be taken in, with line number and reason "
            "(default: beside the file, ending in .rejects.csv)",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        try:
            file = ReadingsFile(path)
            types = _types(options["machines"])
            organisation = _organisation(options["organisation"], options["create_organisation"])
            if options["create_machines"]:
                made = create_machines(file, organisation=organisation, types=types)
                self.stdout.write(f"{len(made):,} machines made.")
            with (
                Rejects(options["rejects"] or path.with_suffix(".rejects.csv")) as rejects,
                tqdm(total=file.rows, unit=" rows", file=sys.stderr, disable=not sys.stderr.isatty()) as bar,
            ):
                tally = take_file(file, organisation=organisation, reject=rejects.add, progress=bar.update)
        except FleetError as error:
            raise CommandError(error.sentence) from error
        self.stdout.write(
            f"{file.rows:,} rows: {tally['counted']:,} counted, {tally['held']:,} held, "
            f"{tally['duplicate']:,} duplicates, {tally['refused']:,} rejected."
        )
        if tally["held"]:
            self.stdout.write("The held ones wait for a person on the page Held readings.")
        if tally["refused"]:
            self.stdout.write(f"The rejected rows, each with its reason, are in {rejects.path}.")


class Rejects:
    """The file of rejected rows; made only when there is one to write."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._open = ExitStack()
        self._writer: Any = None

    def __enter__(self) -> "Rejects":
        return self

    def __exit__(self, *exception: object) -> None:
        self._open.close()

    def add(self, line: Line, reason: str) -> None:
        """Write a row with its line number in the file it came from, and the reason."""
        try:
            if self._writer is None:
                file = self._open.enter_context(self.path.open("w", encoding="utf-8", newline=""))
                self._writer = csv.writer(file)
                self._writer.writerow(["line", "machine", "taken_at", "hours", "reason"])
            self._writer.writerow([line.number, line.machine, line.taken_at, line.hours, reason])
        except OSError as error:
            raise FleetError(f"{self.path} can't be written: {error.strerror}.") from error


def _types(path: Path | None) -> dict[str, str]:
    """The type of each machine, by its name in lower case."""
    if path is None:
        return {}
    return {name.lower(): kind for _, (name, kind) in read_table(path, ("machine", "type"))}


def _organisation(slug: str, name: str | None) -> Organisation:
    organisation = Organisation.objects.filter(slug=slug).first()
    if organisation is not None:
        return organisation
    if name is None:
        raise FleetError(f"There is no organisation {slug!r}; make it with --create-organisation NAME.")
    try:
        validate_slug(slug)
    except ValidationError:
        raise FleetError(
            f"{slug!r} can't name an organisation; use letters, figures, hyphens and underscores."
        ) from None
    with transaction.atomic():
        return Organisation.objects.create(slug=slug, name=name)
