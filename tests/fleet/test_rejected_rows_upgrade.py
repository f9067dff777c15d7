"""Rejected rows of the version before are there after the tables changed; a line may have several since."""

import pytest
from django.apps import apps as django_apps
from django.db import IntegrityError, connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone
from django_scopes import scopes_disabled

BEFORE = [("fleet", "0013_names_in_the_administration")]


@pytest.fixture
def before(transactional_db):
    """The models as they were; afterwards everything is as it is now again."""
    MigrationExecutor(connection).migrate(BEFORE)
    yield MigrationExecutor(connection).loader.project_state(BEFORE).apps
    forward()


def forward():
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


def test_rejected_rows_stay_and_a_line_may_have_several(before):
    def row(name, /, **fields):
        return before.get_model("fleet", name)._base_manager.create(**fields)

    farm = row("Organisation", name="Alder Farm", slug="alder-farm", zone="UTC")
    sent = row(
        "SentFile", organisation=farm, name="hours.csv", file="x", state="done", sent_at=timezone.now()
    )
    row("RejectedRow", organisation=farm, file=sent, line=4, reason="No such machine.", cells=["T-99"])
    forward()
    with scopes_disabled():
        rejected = django_apps.get_model("fleet", "RejectedRow")
        kept = rejected.objects.get()
        assert (kept.sheet, kept.line, kept.place, kept.cells) == ("", 4, 0, ["T-99"])
        assert kept.file.firsts == []
        same = {"organisation_id": farm.pk, "file_id": sent.pk, "line": 4, "reason": "x", "cells": []}
        rejected.objects.create(**same, place=2)
        rejected.objects.create(**same, sheet="May")
        with pytest.raises(IntegrityError), transaction.atomic():
            rejected.objects.create(**same)
        kept.file.delete()
        django_apps.get_model("fleet", "Organisation").objects.all().delete()
