"""Say how far a new organisation has come with its first steps."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django_scopes import scope

from fleet.models import Organisation
from servicing.first_day.checklist import all_steps
from servicing.first_day.step import Step


class Command(BaseCommand):
    help = "Print a new organisation's first steps, one a line: code, state, what is there or missing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("slug")

    def handle(self, *args: Any, slug: str, **options: Any) -> None:
        organisation = Organisation.objects.filter(slug=slug).first()
        if organisation is None:
            raise CommandError(f"There is no organisation {slug!r}.")
        if organisation.set_up_at is not None:
            self.stdout.write(
                f"{organisation} closed its list of first steps {organisation.set_up_at:%Y-%m-%d}."
            )
            return
        with scope(organisation=organisation):
            for step in all_steps(organisation):
                self.stdout.write(_line(step))


def _line(step: Step) -> str:
    """The step in a line; what it lacks by name where what is said doesn't name it."""
    missing = "; ".join(f"{lack.name} ({lack.note})" for lack in (*step.first_lacks, *step.more_lacks))
    return f"{step.code.value}: {step.state.value}. {step.said}{f' {missing}.' if missing else ''}"
