"""`manage.py forecast READINGS.csv TARGETS.csv`: on which day is each target reached? Needs no database."""

import sys
from argparse import ArgumentParser
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from tqdm import tqdm

from fleet.core.csv_writer import lines
from fleet.core.errors import FleetError
from fleet.imports import log_book


class Command(BaseCommand):
    help = (
        "Forecast from a log book on which day each target is reached: early, likely and late (10, 50 and "
        "90 % quantiles). READINGS: a CSV file with the columns machine, taken_at, hours. TARGETS: one with "
        "machine, origin (the day to forecast from), target_hours. Needs no database."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("readings", type=Path)
        parser.add_argument("targets", type=Path)
        parser.add_argument(
            "--machines",
            type=Path,
            metavar="FILE",
            help="CSV with the columns machine, type: machines of one type share what is learned",
        )
        parser.add_argument("--out", type=Path, metavar="FILE", help="write there; else to the terminal")

    def handle(
        self, *args: Any, readings: Path, targets: Path, machines: Path, out: Path, **rest: Any
    ) -> None:
        try:
            wanted, wrong = log_book.read_targets(targets)
            files = log_book.read(readings, machines, others=tuple({target.machine for target in wanted}))
        except FleetError as error:
            raise CommandError(error.sentence) from error
        for sentence in (*files.wrong, *wrong):
            self.stderr.write(sentence)
        with tqdm(total=len(wanted), unit=" targets", disable=not sys.stderr.isatty()) as bar:
            days = log_book.project(files, wanted, step=bar.update)
        with ExitStack() as stack:
            try:
                file = (
                    stack.enter_context(out.open("w", newline="", encoding="utf-8")) if out else self.stdout
                )
            except OSError as error:
                raise CommandError(f"{out} can't be written: {error.strerror}.") from error
            rows = [["machine", "origin", "target_hours", "early", "likely", "late"]]
            for target, dates in zip(wanted, log_book.as_dates(days), strict=True):
                rows.append([target.machine, target.origin_said, target.hours_said, *dates])
            file.writelines(lines(rows, end="\n"))
