"""`manage.py import_machines FILE.csv|.xlsx --organisation SLUG`: add the machines of a list."""

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django_scopes import scope

from fleet.core.errors import FleetError
from fleet.core.number_reader import read_whole
from fleet.imports.small_file import MOST_BYTES
from fleet.machine_list import columns as telling
from fleet.machine_list import grid as reading
from fleet.machine_list import saving
from fleet.machine_list.answers import ADD, COMMA, POINT, Answers, ModelAnswer, ModelQuestion, key
from fleet.machine_list.columns import Told
from fleet.machine_list.judging import Judged, judge
from fleet.machine_list.known import Known
from fleet.machine_list.listing import NAMES, Listing
from fleet.machine_list.models_named import NewModel
from fleet.management.acting_member import acting_member
from fleet.models import Member, Organisation
from fleet.models.machine import Category


class Command(BaseCommand):
    help = (
        "Add the machines of a list: a CSV or XLSX file with fleet number, maker and model, hours, in "
        "service since. All are added, or none. What would have to be guessed is refused, naming every "
        "option that answers. A list sent again adds nothing twice."
    )

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the CSV or XLSX file")
        parser.add_argument("--organisation", metavar="SLUG", required=True, help="whose machines they are")
        parser.add_argument(
            "--as",
            dest="by",
            metavar="MAIL",
            help="the owner or manager who adds them (default: first owner)",
        )
        parser.add_argument("--dry-run", action="store_true", help="say what would be added, and add nothing")
        parser.add_argument(
            "--column",
            action="append",
            default=[],
            metavar="HOLDS=COLUMN",
            help=f"what a column holds ({', '.join(NAMES)}); the column by its heading, or its number from 1",
        )
        parser.add_argument("--day-order", choices=["dmy", "mdy"], default="", help="day or month first")
        parser.add_argument("--decimal", choices=[POINT, COMMA], default="", help="the decimal mark")
        parser.add_argument(
            "--since-unknown",
            action="store_true",
            help="machines without a day of coming: count calendar intervals from today",
        )
        parser.add_argument(
            "--leave-out-known", action="store_true", help="leave out the machines that are here already"
        )
        parser.add_argument(
            "--prices-in-our-currency", action="store_true", help="whatever the heading of the prices says"
        )
        parser.add_argument(
            "--category",
            action="append",
            default=[],
            metavar="MODEL=CATEGORY",
            help=f"of a new model, as the list names it: {', '.join(Category.values)}",
        )
        parser.add_argument(
            "--maker",
            action="append",
            default=[],
            metavar="MODEL=MAKER",
            help="the maker within a new make and model, as in 'Arden 40C=Arden'",
        )
        parser.add_argument(
            "--as-offered",
            action="store_true",
            help="take makers and categories of new models as --dry-run offers them",
        )
        parser.add_argument(
            "--yard",
            action="append",
            default=[],
            metavar="NAME=YARD",
            help=f"which yard the list means, one of ours or {ADD!r} to add it",
        )
        parser.add_argument("--yard-unnamed", metavar="YARD", default="", help="of machines without one")

    def handle(self, *args: Any, file: Path, organisation: str, by: str | None, **options: Any) -> None:
        owned = Organisation.objects.filter(slug=organisation).first()
        if owned is None:
            raise CommandError(f"There is no organisation {organisation!r}.")
        with scope(organisation=owned):
            member = acting_member(owned, by)
            try:
                self._add(file, Known.of(owned), member, options)
            except FleetError as error:
                raise CommandError(error.sentence) from error

    def _add(self, file: Path, known: Known, member: Member, options: dict[str, Any]) -> None:
        try:
            with file.open("rb") as opened:
                grid = reading.from_bytes(opened.read(MOST_BYTES + 1), file.name)
        except OSError as error:
            raise CommandError(f"{file}: {error.strerror}") from error
        told = _told(telling.tell(grid, known), options["column"], file.name)
        table = telling.listing(grid, told)
        answers = _answers(table, known, options)
        judged = judge(table, answers, known)
        if not judged.entries:
            self.stdout.write(f"All {len(judged.here)} machines of {file.name} are here already.")
            return
        self._check(judged, file.name)
        if options["dry_run"]:
            self._say(judged)
            return
        try:
            added = saving.add(table=table, answers=answers, member=member)
        except saving.NotRight as error:
            self._check(error.judged, file.name)
            raise
        self.stdout.write(
            f"{len(added.machines)} machines added, {len(added.models)} models, {len(added.yards)} yards."
        )

    def _check(self, judged: Judged, name: str) -> None:
        """Say each cell that is wrong, and refuse while anything is wrong or unanswered, naming it all."""
        tags = {entry.number: entry.tag for entry in judged.entries}
        for number, cells in sorted(judged.problems.items()):
            for column, sentence in cells.items():
                self.stderr.write(f"Machine {number} ({tags[number] or 'no number'}), {column}: {sentence}")
        missing = list(_missing(judged))
        wrong = sum(map(len, judged.problems.values()))
        if wrong or missing:
            said = [f"{wrong} to put right"] if wrong else []
            said += [f"answer by {'; '.join(missing)}"] if missing else []
            raise CommandError(
                f"{name}: nothing is added. {'. '.join(said)}.".replace(". answer", ". Answer")
            )

    def _say(self, judged: Judged) -> None:
        for entry in judged.entries:
            hours = f", {entry.hours} h" if entry.hours is not None else ""
            kind = entry.type
            named = f"{kind.maker} {kind.model}" if kind else ""
            self.stdout.write(
                f"{entry.tag}: {named}{hours}, since {entry.since}, {getattr(entry.yard, 'name', '')}"
            )
            for remark in judged.remarks.get(entry.number, {}).values():
                self.stdout.write(f"  {remark}")
        for new in {entry.type for entry in judged.entries if isinstance(entry.type, NewModel)}:
            self.stdout.write(f"New model: {new.maker} | {new.model}, {new.category}")
        self.stdout.write(f"{len(judged.entries)} machines would be added.")


def _missing(judged: Judged) -> Iterator[str]:
    """Every option that answers what is open."""
    asked = judged.questions
    if "order" in judged.open:
        yield f"--day-order dmy|mdy (“{asked.order}”)"
    if "decimal" in judged.open:
        yield f"--decimal point|comma (“{asked.decimal}”)"
    if "since" in judged.open:
        yield f"--since-unknown (machines {', '.join(map(str, asked.since[:10]))})"
    if "currency" in judged.open:
        yield f"--prices-in-our-currency (“{asked.currency}”)"
    if "unnamed" in judged.open:
        yield "--yard-unnamed YARD"
    for yard in asked.yards:
        if not yard.answer:
            yield f'--yard "{yard.name}=YARD|{ADD}"'
    for model in asked.models:
        if not model.settled:
            yield from _about(model)
    if any(number in judged.here for number in judged.problems):
        yield f"--leave-out-known ({len(judged.here)} are here already)"


def _about(model: ModelQuestion) -> Iterator[str]:
    if model.problem:
        yield f'--maker "{model.name}=MAKER" ({model.problem})'
    elif model.in_one:
        yield f'--maker "{model.name}={model.maker}" or --as-offered'
    yield f'--category "{model.name}={model.category or "CATEGORY"}"'


def _told(told: Told, said: list[str], file: str) -> Told:
    """What the columns hold, with those that were named. Raises FleetError, CommandError."""
    for option in said:
        holds, _equals, name = option.partition("=")
        places = [at for at, each in enumerate(told.names) if each.strip().lower() == name.strip().lower()]
        number = read_whole(name)
        if not places and number and number <= len(told.columns):
            places = [number - 1]
        if holds not in NAMES or len(places) != 1:
            raise CommandError(f"--column {option}: it is HOLDS=COLUMN, where COLUMN is one of {file}.")
        told.columns = ["" if column == holds else column for column in told.columns]
        told.columns[places[0]] = holds
        told.open = False
    if told.open:
        shown = ", ".join(
            f"{name or number}: {column or 'not read'}"
            for number, (name, column) in enumerate(zip(told.names, told.columns, strict=True), start=1)
        )
        raise CommandError(f"{file}: say what its columns hold with --column HOLDS=COLUMN. So far: {shown}.")
    return told


def _answers(table: Listing, known: Known, options: dict[str, Any]) -> Answers:
    """What the options answer. Raises CommandError for one that answers nothing."""
    unnamed = known.yard_called(options["yard_unnamed"]) if options["yard_unnamed"] else None
    yards = {}
    for name, wanted in _pairs("--yard", options["yard"]):
        ours = known.yard_called(wanted)
        if wanted != ADD and ours is None:
            raise CommandError(f"--yard {name}={wanted}: there is no yard {wanted!r}.")
        yards[key(name)] = ADD if wanted == ADD or ours is None else str(ours.pk)
    answers = Answers(
        order=options["day_order"],
        decimal=options["decimal"],
        since_unknown=options["since_unknown"],
        leave_known=options["leave_out_known"],
        in_currency=options["prices_in_our_currency"],
        yards=yards,
        unnamed_yard=str(unnamed.pk) if unnamed else "",
        new_yard="" if unnamed else options["yard_unnamed"],
    )
    makers = {key(name): maker for name, maker in _pairs("--maker", options["maker"])}
    categories = {key(name): category for name, category in _pairs("--category", options["category"])}
    if wrong := set(categories.values()) - set(Category.values):
        raise CommandError(f"--category: {wrong.pop()!r} is none of {', '.join(Category.values)}.")
    models = {}
    for asked in judge(table, answers, known).questions.models:
        settled = options["as_offered"] or (
            asked.key in categories and (asked.key in makers or not asked.in_one)
        )
        if settled and not asked.settled:
            maker = makers.get(asked.key, asked.maker)
            whole = f"{asked.maker} {asked.model}".strip()
            model = whole[len(maker) :].strip() if whole.lower().startswith(maker.lower()) else asked.model
            models[asked.key] = ModelAnswer(maker, model, categories.get(asked.key, asked.category))
    return Answers(**{**vars(answers), "models": models})


def _pairs(option: str, values: list[str]) -> Iterator[tuple[str, str]]:
    for value in values:
        name, equals, said = value.rpartition("=")
        if not equals:
            raise CommandError(f"{option} {value}: it is NAME=ANSWER.")
        yield name.strip(), said.strip()
