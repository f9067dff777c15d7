"""Take a list of when work was last done on machines that ran before."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django_scopes import scope

from fleet.core.errors import FleetError
from fleet.models import Machine, Organisation
from servicing.last_done import say
from servicing.last_done.asked import Sheet, open_cells, sheets
from servicing.last_done.listed import read_list, rows_of_file
from servicing.last_done.typed import Said, read_cell


class Command(BaseCommand):
    help = (
        "Take a CSV or XLSX of when tasks were last done, before any order recorded it: one line a task with"
        " fleet number, task, hours and day, or machines across or down. All of it is taken, or nothing."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--organisation", required=True, metavar="SLUG")
        parser.add_argument(
            "--date-order",
            choices=Organisation.DateOrder.values,
            help="How days such as 3/5/2026 are written; the organisation's own when left out.",
        )
        parser.add_argument(
            "--rest-unknown",
            action="store_true",
            help="Of what is asked and not in the list nobody knows: it falls due for an inspection.",
        )
        parser.add_argument(
            "--dry-run", action="store_true", help="Say what would be taken, and take nothing."
        )

    def handle(self, *args: Any, file: Path, organisation: str, **options: Any) -> None:
        owner = Organisation.objects.filter(slug=organisation).first()
        if owner is None:
            raise CommandError(f"there is no organisation {organisation!r}")
        with scope(organisation=owner):
            known = sheets(Machine.objects.in_service().values_list("pk", flat=True))
            try:
                statements = _read(file, known, options["date_order"] or owner.date_order)
            except FleetError as error:
                raise CommandError(error.sentence) from error
            if options["rest_unknown"]:
                listed = {each.cell for each in statements}
                rest = [cell for sheet in known for cell in sheet.open if cell not in listed]
                statements += [say.Statement(cell, Said(unknown=True)) for cell in rest]
            wrong = say.judge(statements, now=timezone.now())
            if wrong:
                raise CommandError("\n".join(_placed(statements[at], wrong[at]) for at in wrong))
            if options["dry_run"]:
                self.stdout.write(f"{len(say.changed(statements))} would be taken.")
                return
            kept = say.say(statements=statements, member=None)
            self.stdout.write(f"{kept} taken; {len(open_cells())} still open.")


def _read(file: Path, known: list[Sheet], order: str) -> list[say.Statement]:
    """What the file says. Raises FleetError, or CommandError with a line for each that can't be read."""
    listed = read_list(rows_of_file(file, file.name), known)
    cells = {place: cell for sheet in known for place, cell in sheet.cells.items()}
    statements, wrong = [], list(listed.unplaced)
    for place, text in listed.cells.items():
        cell = cells[place]
        try:
            said = read_cell(text, order)
        except FleetError as error:
            wrong.append(f"{cell.machine}, {cell.task}: {error.sentence}")
            continue
        if said is not None:
            statements.append(say.Statement(cell, said))
    if wrong:
        raise CommandError("\n".join(wrong))
    return statements


def _placed(statement: say.Statement, error: FleetError) -> str:
    return f"{statement.cell.machine}, {statement.cell.task}: {error.sentence}"
