"""Load a maker's table from a CSV file into one organisation, as the draft of a program or in use at once."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django_scopes import scope

from fleet.core.csv_reader import separator_of
from fleet.core.errors import FleetError
from fleet.models import MachineType, Organisation
from servicing.models import Interval
from servicing.models.program import INVENTED_FIGURES
from servicing.planning import maker_table
from servicing.planning.maker_table import GridTask
from servicing.programs import drafts

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
            "--apply", action="store_true", help="Use it at once instead of leaving a draft to check."
        )

    def handle(self, *args: Any, file: Path, organisation: str, apply: bool, **options: Any) -> None:
        owner = Organisation.objects.filter(slug=organisation).first()
        if owner is None:
            raise CommandError(f"there is no organisation {organisation!r}")
        tasks = self._tasks(file)
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

    def _tasks(self, file: Path) -> list[GridTask]:
        """Return the tasks of the table; each cell that can't be read is said, and then nothing is loaded."""
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
            read = maker_table.read(maker_table.cells(written, separator_of(written.partition("\n")[0])))
        except maker_table.TooLarge as error:
            raise CommandError(f"{file}: {error}") from error
        if read.faults:
            for fault in read.faults:
                self.stderr.write(str(fault))
            raise CommandError(f"{file}: nothing was loaded; {len(read.faults)} to put right")
        return read.tasks
