"""Tables and models as an earlier version had them, for tests of the way from there."""

from collections.abc import Sequence
from io import StringIO
from typing import Any

from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor


def migrated(to: Sequence[tuple[str, str]]) -> Any:
    """Migrate to there; return the models as they are there."""
    MigrationExecutor(connection).migrate(to)
    return MigrationExecutor(connection).loader.project_state(to).apps


def to_newest() -> None:
    """Migrate to what is now."""
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


def empty_and_newest() -> None:
    """Throw every row away, then migrate to what is now: for the end of a test that went back."""
    call_command("flush", interactive=False, stdout=StringIO())
    to_newest()


def row(models: Any, name: str, /, *, app: str = "fleet", **fields: Any) -> Any:
    """Make a row of a model as it was."""
    return models.get_model(app, name)._base_manager.create(**fields)
