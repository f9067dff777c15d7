"""Load a service program from its YAML file into one organisation."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django_scopes import scope

from fleet.models import Organisation
from servicing.models.program import INVENTED_FIGURES
from servicing.programs.file_format import ProgramFaults, parse
from servicing.programs.file_format.limits import MOST_BYTES
from servicing.programs.load import load_for_every_type, load_program


class Command(BaseCommand):
    help = "Load a service programme; the same file again changes nothing. See fixtures/programs/README.md."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--organisation", required=True, metavar="SLUG")
        parser.add_argument(
            "--every-type",
            action="store_true",
            help="Load it for each model that has no programme, in place of the model in the file.",
        )

        parser.add_argument(
            "--invented",
            action="store_true",
            help="Load it although its figures are invented, only to try it out.",
        )

    def handle(self, *args: Any, file: Path, organisation: str, every_type: bool, **options: Any) -> None:
        owner = Organisation.objects.filter(slug=organisation).first()
        if owner is None:
            raise CommandError(f"there is no organisation {organisation!r}")
        try:
            with file.open("rb") as opened:
                written = opened.read(MOST_BYTES + 1)
        except OSError as error:
            raise CommandError(f"{file}: {error.strerror}") from error
        try:
            with scope(organisation=owner):
                document = parse(written)
                if every_type:
                    versions = load_for_every_type(
                        organisation=owner, document=document, trial=options["invented"]
                    )
                else:
                    versions = [
                        load_program(organisation=owner, document=document, trial=options["invented"])
                    ]
        except ProgramFaults as error:
            for fault in error.faults:
                self.stderr.write(fault)
            raise CommandError(f"{file}: nothing was loaded; {len(error.faults)} to put right") from error
        for version in versions:
            self.stdout.write(f"{owner}: {version}")
            if version.invented:
                self.stdout.write(INVENTED_FIGURES)
        if not versions:
            self.stdout.write(f"{owner}: every model has a programme already.")
