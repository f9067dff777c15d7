"""`manage.py bare_photos`: photos kept as they came lose what they tell beside the picture."""

from pathlib import Path
from typing import Any

from django.apps import apps
from django.core.management.base import BaseCommand
from django.db.models import ImageField
from django_scopes import scopes_disabled

from fleet.core.photos import picture_alone, tells_more


class Command(BaseCommand):
    help = "Remove place, time and camera from photos kept before this was done on arrival."

    def handle(self, *args: Any, **options: Any) -> None:
        bared = left = 0
        for file in _photos():
            path = Path(file.path)
            try:
                with path.open("rb") as kept:
                    told = tells_more(kept)
                if told:
                    _rewrite(path)
                    bared += 1
            except (OSError, SyntaxError, ValueError, EOFError) as error:
                left += 1
                self.stderr.write(f"{file.name} stays as it is: {error}")
        self.stdout.write(f"Photos rewritten: {bared}. Not readable: {left}.")


def _photos() -> Any:
    """Every photo that a row of ours names, of every organisation."""
    with scopes_disabled():
        for model in apps.get_models():
            for field in model._meta.concrete_fields:
                if isinstance(field, ImageField):
                    for row in model._base_manager.exclude(**{field.name: ""}).order_by("pk").iterator():
                        yield getattr(row, field.name)


def _rewrite(path: Path) -> None:
    """Put the picture alone in its place; at every moment one of the two is there, whole."""
    _, bare = picture_alone(path)
    beside = path.with_name(f".{path.name}.bare")
    beside.write_bytes(bare)
    beside.chmod(path.stat().st_mode & 0o777)
    beside.replace(path)
