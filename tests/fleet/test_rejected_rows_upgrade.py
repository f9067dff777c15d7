"""Rejected rows of the version before are there after the tables changed; a line may have several since."""

import pytest
from django.apps import apps as django_apps
from django.db import IntegrityError, transaction
from django.utils import timezone
from django_scopes import scopes_disabled

from tests.earlier_tables import migrated, row, to_newest

BEFORE = [("fleet", "0013_names_in_the_administration")]


@pytest.fixture
def before(transactional_db):
    """The models as they were; afterwards everything is as it is now again."""
    yield migrated(BEFORE)
    to_newest()


def test_rejected_rows_stay_and_a_line_may_have_several(before):
    farm = row(before, "Organisation", name="Alder Farm", slug="alder-farm", zone="UTC")
    sent = row(
        before,
        "SentFile",
        organisation=farm,
        name="hours.csv",
        file="x",
        state="done",
        sent_at=timezone.now(),
    )
    row(
        before, "RejectedRow", organisation=farm, file=sent, line=4, reason="No such machine.", cells=["T-99"]
    )
    to_newest()
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
