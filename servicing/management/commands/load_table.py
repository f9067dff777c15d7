"""Load a maker's table from a CSV file into one organisation, as the draft of a program or in use at once."""

from argparse import ArgumentParser
from collections import Counter
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django_scopes import scope

from fleet.core.csv_reader import first_rows, separator_of
from fleet.core.errors import FleetError
from fleet.models import MachineType, Organisation
from servicing.models import Interval
from servicing.models.program import INVENTED_FIGURES
from servicing.planning import maker_table
from servicing.planning.maker_table import Choice, GridTask, Question
from servicing.planning.table_grid import LEAVE_OUT, YES
from servicing.programs import drafts
from servicing.programs.wording import reading

MOST_BYTES = 1024 * 1024  # a full table of long cells has a tenth of that


class Command(BaseCommand):
    help = (
        "Load a maker's table from a CSV file. What it may hold: fixtures/programs/README.md, A table alone."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--organisation", required=True, metavar="SLUG")
        parser.add_argument("--maker", required=True)
        parser.add_argument("--model", required=True)
        parser.add_argument("--title", required=True, help="What people call the programme.")
        parser.add_argument("--source", required=True, help="The maker's manual with its number and edition.")
        parser.add_argument(
            "--anchor",
            choices=Interval.Anchor.values,
            default=Interval.Anchor.MARKS,
            help="marks: on a fixed schedule (the default); done: counted from when it was last done.",
        )
        parser.add_argument(
            "--answer",
            action="append",
            default=[],
            metavar="PLACE=CHOICE",
            help="Answer a question that was asked, such as 4.3=2, or 4.3=leave to leave the row out.",
        )
        parser.add_argument(
            "--answer-same",
            action="append",
            default=[],
            metavar="PLACE=CHOICE",
            help="Answer so all questions that read the same as the one at this place.",
        )
        parser.add_argument(
            "--apply", action="store_true", help="Use it at once instead of leaving a draft to check."
        )

    def handle(self, *args: Any, file: Path, organisation: str, apply: bool, **options: Any) -> None:
        owner = Organisation.objects.filter(slug=organisation).first()
        if owner is None:
            raise CommandError(f"there is no organisation {organisation!r}")
        tasks = self._tasks(file, options["answer"], options["answer_same"])
        with scope(organisation=owner), transaction.atomic():
            wanted = {"maker__iexact": options["maker"], "model__iexact": options["model"]}
            machine_type = MachineType.objects.filter(**wanted).first()
            if machine_type is None:
                raise CommandError(f"{owner} has no machines of {options['maker']} {options['model']}")
            try:
                version = drafts.begin(
                    organisation=owner,
                    machine_type=machine_type,
                    title=options["title"],
                    source=options["source"],
                    tasks=tasks,
                    member=None,
                    anchor=options["anchor"],
                )
                if apply:
                    version = drafts.apply(version=version, member=None)
            except FleetError as error:
                raise CommandError(error.sentence) from error
        state = "in use" if apply else "a draft; preview and apply it on the page Programmes"
        self.stdout.write(f"{owner}: {version}, {len(tasks)} task{'' if len(tasks) == 1 else 's'}, {state}")
        if version.invented:
            self.stdout.write(INVENTED_FIGURES)

    def _tasks(self, file: Path, said: list[str], said_same: list[str]) -> list[GridTask]:
        """Return the tasks of the table; each cell that can't be read is said, and then nothing is loaded.

        So is each question that no option answers.
        """
        try:
            with file.open("rb") as opened:
                sent = opened.read(MOST_BYTES + 1)
        except OSError as error:
            raise CommandError(f"{file}: {error.strerror}") from error
        if len(sent) > MOST_BYTES:
            raise CommandError(f"{file} is larger than {MOST_BYTES // 1024} KB; is it the right file?")
        try:
            written = sent.decode("utf-8-sig")
        except UnicodeDecodeError:
            written = "\0"
        if "\0" in written:
            raise CommandError(f"{file} is not text in UTF-8; save it as CSV in UTF-8")
        try:
            top = first_rows(written)
            separator = "\t" if maker_table.stands_in_columns(top) else separator_of(top)
            cells = maker_table.cells(written, separator)
        except maker_table.TooLarge as error:
            raise CommandError(f"{file}: {error}") from error
        answers = self._answers(cells, said, said_same)
        read = maker_table.read(cells, answers)
        if read.open:
            self._ask(read.open)
        if read.faults:
            for fault in read.faults:
                self.stderr.write(str(fault))
        if read.faults or read.open:
            wrong = [f"{len(read.faults)} to put right"] if read.faults else []
            wrong += [f"{len(read.open)} to answer"] if read.open else []
            raise CommandError(f"{file}: nothing was loaded; {', '.join(wrong)}")
        for offer in read.offers:
            if not offer.taken:
                words = ", ".join(each.words for each in offer.limits)
                self.stdout.write(
                    f"{offer.title}: {words} stays as words; --answer {offer.place}=yes measures it"
                )
        if read.headings:
            said_titles = ", ".join(f"{words} (row {number})" for number, words in read.headings)
            self.stdout.write(f"Read as titles, because nothing is marked: {said_titles}")
        return read.tasks

    def _answers(self, cells: list[list[str]], said: list[str], said_same: list[str]) -> dict[str, str]:
        """Return the answers of the options by place; one that answers nothing is refused."""
        answers: dict[str, str] = {}
        for option, values in (("--answer-same", said_same), ("--answer", said)):
            for value in values:
                place, _equals, code = value.partition("=")
                read = maker_table.read(cells, answers)
                if code == YES and place in {offer.place for offer in read.offers}:
                    answers[place] = YES
                    continue
                questions = read.questions
                asked = next((question for question in questions if question.place == place), None)
                if asked is None:
                    raise CommandError(f"{option} {value}: there is no question at {place}")
                choices = {number: choice.code for number, choice in _numbered(asked)}
                if code not in choices:
                    raise CommandError(f"{option} {value}: the choices are {', '.join(choices)}")
                alike = [each for each in questions if each.signature == asked.signature]
                for question in alike if option == "--answer-same" else [asked]:
                    if choices[code] in {choice.code for choice in question.choices}:
                        answers[question.place] = choices[code]
        return answers

    def _ask(self, questions: list[Question]) -> None:
        """Say each question with its row as typed, and the option for every answer."""
        alike = Counter(question.signature for question in questions)
        for question in questions:
            self.stderr.write(str(question))
            self.stderr.write(f"  as typed: {' | '.join(cell for cell in question.typed if cell)}")
            for number, choice in _numbered(question):
                sentence = choice.said or "; ".join(map(reading, choice.tasks)) or "leave out this row"
                sentence = "; ".join(fault.sentence for fault in choice.faults) or sentence
                self.stderr.write(f"  --answer {question.place}={number}: {sentence}")
            if alike[question.signature] > 1:
                self.stderr.write(
                    f"  --answer-same {question.place}=...: "
                    f"the same for all {alike[question.signature]} that read the same"
                )


def _numbered(question: Question) -> list[tuple[str, Choice]]:
    """The choices, each with what the option calls it: its number, or leave."""
    return [
        (LEAVE_OUT if choice.code == LEAVE_OUT else str(number), choice)
        for number, choice in enumerate(question.choices, start=1)
    ]
