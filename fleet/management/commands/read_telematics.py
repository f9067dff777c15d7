"""`manage.py read_telematics [SOURCE]`: ask telematics sources now, whether they are due or not."""

import argparse
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db.models import Q
from django_scopes import scope, scopes_disabled

from fleet.core.number_reader import read_whole
from fleet.models import TelematicsSource
from fleet.telematics.poll import read


class Command(BaseCommand):
    help = "Read the fleet snapshots of telematics sources now. Reading one again counts nothing twice."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("source", nargs="?", metavar="SOURCE", help="its name or id; all when left out")
        parser.add_argument("--organisation", metavar="SLUG", help="only this organisation's")

    def handle(self, *args: Any, source: str | None, organisation: str | None, **options: Any) -> None:
        with scopes_disabled():  # the operator's command looks over all organisations
            chosen = TelematicsSource.objects.select_related("organisation").order_by("organisation", "name")
            if organisation:
                chosen = chosen.filter(organisation__slug=organisation)
            if source is None:
                chosen = chosen.filter(active=True)
            else:
                chosen = chosen.filter(Q(name=source) | Q(pk=read_whole(source)))
            found = list(chosen)
        if not found:
            raise CommandError(f"There is no source {source!r}." if source else "No source is switched on.")
        failed = [each for each in found if not self._read(each)]
        if failed:
            raise CommandError(f"{len(failed)} of {len(found)} could not be read.")

    def _read(self, source: TelematicsSource) -> bool:
        with scope(organisation=source.organisation):
            good = read(source=source, forced=True)
            source.refresh_from_db()
        if good:
            said = source.outcome
        else:
            said = "somebody else is reading it just now." if source.busy_until else source.error
        self.stdout.write(f"{source.organisation.slug}: {source}: {said}")
        return good
