"""`manage.py backtest READINGS.csv --every 100`: how good would we have been? Needs no database."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from tqdm import tqdm

from fleet.core.errors import FleetError
from fleet.imports import log_book
from fleet.usage import backtest
from fleet.usage.reliability_plot import draw

HEAD = f"{'':34}{'cases':>7}{'error':>8}{'bias':>8}{'loss':>9}{'coverage':>11}{'width':>8}"


class Command(BaseCommand):
    help = (
        "Replay past days: forecast when each machine reaches every so many hours, from what was known then, "
        "and score that beside the rules people use by hand. READINGS: a CSV file with the columns machine, "
        "taken_at, hours. Needs no database."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("readings", type=Path)
        parser.add_argument(
            "--every", type=float, default=100.0, metavar="HOURS", help="every so many hours; 100 if left out"
        )
        parser.add_argument(
            "--machines",
            type=Path,
            metavar="FILE",
            help="CSV with the columns machine, type: machines of one type share what is learned",
        )
        parser.add_argument("--plot", type=Path, metavar="FILE", help="write a reliability plot (SVG) there")

    def handle(
        self, *args: Any, readings: Path, every: float, machines: Path | None, plot: Path | None, **rest: Any
    ) -> None:
        try:
            files = log_book.read(readings, machines)
        except FleetError as error:
            raise CommandError(error.sentence) from error
        for sentence in files.wrong:
            self.stderr.write(sentence)
        book = files.book()
        try:
            cases = backtest.choose(book, every=every)
        except ValueError as error:
            raise CommandError(f"--every: {error}.") from error
        if not len(cases.machine):
            raise CommandError(
                "there is nothing to score: no machine passed two due points 90 days before the end."
            )
        with tqdm(total=len(cases.machine), unit=" cases", disable=not sys.stderr.isatty()) as bar:
            forecast, given = backtest.ours(book, cases, step=bar.update)
        self._say(
            f"{book.machines} machines, {len(book.day)} readings, due points every {every:g} h; days", HEAD
        )
        rows = {"Hourmark": forecast} | backtest.all_rules(book, cases)
        for name, days in rows.items():
            self._say(_line(backtest.score(name, cases, days)))
        self._say("", "Hourmark by machine type")
        for score in backtest.by_type(book, cases, forecast):
            self._say(_line(score._replace(name=files.kinds[int(score.name)] or "no type")))
        self._say("", "Hourmark by hours left")
        for score in backtest.by_hours_left(cases, forecast):
            self._say(_line(score))
        self._say(
            "",
            "error: mean distance of the likely day from the day it came; bias: above zero, it was too late;",
            "loss: mean quantile loss over early, likely and late (.1, .5, .9); coverage: outcomes between",
            "early and late, 80 % is the aim; width: days from early to late.",
            "A rule by hand has no early and late day; it gets the spread of its errors on other machines.",
        )
        if plot:
            try:
                plot.write_text(draw(*backtest.reliability(given)), encoding="utf-8")
            except OSError as error:
                raise CommandError(f"{plot} can't be written: {error.strerror}.") from error
            self._say(f"Reliability plot: {plot}")

    def _say(self, *lines: str) -> None:
        for line in lines:
            self.stdout.write(line)


def _line(score: backtest.Score) -> str:
    return (
        f"{score.name:34}{score.cases:7}{score.mae:8.1f}{score.bias:+8.1f}{score.pinball:9.2f}"
        f"{100 * score.coverage:10.1f}%{score.width:8.1f}"
    )
