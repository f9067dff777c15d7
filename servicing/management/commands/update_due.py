"""`manage.py update_due`: work out what falls due on every machine now, as the nightly job does."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django_scopes import scope

from fleet.models import Organisation
from servicing.duties.refresh import refresh_all_duties


class Command(BaseCommand):
    help = "Work out what falls due, and when, on every machine in service."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--organisation", metavar="SLUG", help="Only this organisation.")

    def handle(self, *args: Any, organisation: str | None = None, **options: Any) -> None:
        owners = Organisation.objects.order_by("slug")
        if organisation is not None:
            owners = owners.filter(slug=organisation)
            if not owners:
                raise CommandError(f"there is no organisation {organisation!r}")
        for owner in owners:
            with scope(organisation=owner):
                changed = refresh_all_duties()
            self.stdout.write(f"{owner}: {changed} {'task' if changed == 1 else 'tasks'} due changed")
