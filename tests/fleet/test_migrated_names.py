"""Names of tables and columns are for people: the migrations that gave them change nothing else."""

import pytest
from django.db import connection
from django.db.migrations.autodetector import MigrationAutodetector
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.state import ProjectState

from fleet.core.names_alone import NamesAlone

FOR_PEOPLE = {"verbose_name", "verbose_name_plural", "help_text"}
NAMED = [("fleet", "0013"), ("servicing", "0013"), ("notifications", "0005")]


def described(state):
    """Every column and option as it is described, without what only people read."""
    deep = MigrationAutodetector(ProjectState(), ProjectState()).deep_deconstruct
    found = {}
    for key, model in state.models.items():
        found[key] = {name: value for name, value in model.options.items() if name not in FOR_PEOPLE}
        for name, field in model.fields.items():
            path, args, options = deep(field)
            kept = {name: value for name, value in options.items() if name not in FOR_PEOPLE}
            found[(*key, name)] = (path, args, kept)
    return found


@pytest.mark.django_db
def test_names_alone_are_changed():
    loader = MigrationLoader(connection)
    named = [loader.get_migration_by_prefix(app, number) for app, number in NAMED]
    before = loader.project_state([node for migration in named for node in migration.dependencies])
    after = loader.project_state([(migration.app_label, migration.name) for migration in named])
    assert described(before) == described(after)
    assert after.models["fleet", "machine"].fields["tag"].verbose_name == "fleet number"


@pytest.mark.django_db
@pytest.mark.parametrize(("app", "number"), NAMED)
def test_no_table_is_touched(app, number):
    operations = MigrationLoader(connection).get_migration_by_prefix(app, number).operations
    assert [type(each) for each in operations] == [NamesAlone]
    assert operations[0].database_operations == []
