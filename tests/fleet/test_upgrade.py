"""Rows that the version before left are all there after the tables changed, files on their way included."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.apps import apps as django_apps
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone
from django_scopes import scope

from fleet.core.number_reader import POINT
from fleet.imports import inspection, uploads
from fleet.imports.cell_days import DAY_FIRST
from fleet.imports.plan import Plan
from fleet.models import ApiToken, Organisation, Reading, SentFile

BEFORE = [("fleet", "0002_room_for_hours")]
THEN = datetime(2026, 5, 4, 10, tzinfo=UTC)
TEXT = "Unit,Read on,Meter\nT-01,2026-04-01,10\nT-01,2026-04-08,20\nT-99,2026-04-08,5\n"
OLD_KEYS = ("machine", "taken_at", "hours", "time", "note", "heading", "order", "decimal")
KEPT = Plan(machine=0, taken_at=1, hours=2, order=DAY_FIRST, decimal=POINT).to_keep()
PLAN = {name: KEPT[name] for name in OLD_KEYS}
SENDERS = [
    ("page", "meter change"),
    ("page", "correction"),
    ("page", "new machine"),
    ("order", "order 12"),
    ("page", "member 1"),
    ("file", "meter change"),
    ("file", "order 7"),
    ("api", "token 4"),
]


@pytest.fixture
def before(transactional_db, settings, tmp_path):
    """The models as they were, on tables as they were; afterwards everything is as it is now again."""
    settings.MEDIA_ROOT = tmp_path
    executor = MigrationExecutor(connection)
    executor.migrate(BEFORE)
    yield MigrationExecutor(connection).loader.project_state(BEFORE).apps
    call_command("flush", interactive=False, stdout=StringIO())
    forward()


def forward():
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


def row(models, name, /, **fields):
    return models.get_model("fleet", name)._base_manager.create(**fields)


@pytest.fixture
def left(before):
    """What the old version left: its files in each state, readings of each sender, a person's token."""
    farm = row(before, "Organisation", name="Alder Farm", slug="alder-farm", zone="UTC")
    ours = {"organisation": farm}
    user = row(before, "User", username="mara", password="!")
    member = row(before, "Member", user=user, role="owner", **ours)
    yard = row(before, "Yard", name="Home", **ours)
    kind = row(before, "MachineType", maker="Haldane", model="HX 25", category="tractor", **ours)
    machine = row(before, "Machine", tag="T-01", in_service_on=THEN.date(), type=kind, yard=yard, **ours)
    segment = row(before, "MeterSegment", machine=machine, started_at=THEN - timedelta(days=60), **ours)
    for number, (source, sender) in enumerate(SENDERS):
        row(
            before,
            "Reading",
            machine=machine,
            segment=segment,
            taken_at=THEN - timedelta(days=50 - number),
            shows=Decimal(number),
            hours=Decimal(number),
            state="counted",
            code="plausible",
            source=source,
            sender=sender,
            client_id=str(number) if source == "api" else None,
            **ours,
        )
    for name, digest, owner in (("laptop", "a" * 64, member), ("box", "b" * 64, None)):
        row(before, "ApiToken", name=name, prefix=name, digest=digest, member=owner, **ours)
    booked = {"kind": "hire", "what": "Elm Tree", "hours_a_day": Decimal(4), "machine": machine, **ours}
    row(before, "Booking", first_on=THEN.date(), last_on=THEN.date() + timedelta(days=2), **booked)
    for state, done in (
        ("waiting", 0),
        ("running", 1),
        ("failed", 1),
        ("done", 3),
        ("gone", 3),
        ("discarded", 0),
    ):
        place = f"{farm.pk}/readings/{state}"
        if state != "gone":
            default_storage.save(place, ContentFile(TEXT.encode()))
        sent = row(
            before,
            "SentFile",
            name=f"{state}.csv",
            file=place,
            look="CSV, UTF-8, separated by commas",
            sent_by=member,
            sent_at=THEN,
            state="done" if state == "gone" else state,
            plan=PLAN,
            rows=3,
            done=done,
            counted=min(done, 2),
            refused=int(done == 3),
            heard_at=None if state in ("waiting", "discarded") else THEN,
            ended_at=THEN if done or state == "discarded" else None,
            fault="The disk was full." if state == "failed" else "",
            **ours,
        )
        if done == 3:
            cells = ["T-99", "2026-04-08", "5"]
            row(before, "RejectedRow", file=sent, line=4, reason="No such machine.", cells=cells, **ours)
    counts = rows_of(before)
    forward()
    return counts


def rows_of(apps):
    """How many rows each table of the fleet has, by its model's name."""
    return {
        model.__name__: model._base_manager.count() for model in apps.get_app_config("fleet").get_models()
    }


def each_row_says_what_it_said(left):
    now = rows_of(django_apps)
    assert {name: now[name] for name in left} == left
    assert left["SentFile"] == 6
    with scope(organisation=Organisation.objects.get()):
        told = list(Reading.objects.order_by("taken_at").values_list("source", "sender"))
        ends = dict(ApiToken.objects.values_list("name", "expires_at"))
    assert told == [
        ("meter", ""),
        ("correction", ""),
        ("machine", ""),
        ("order", "12"),
        ("page", "member 1"),
        ("file", "meter change"),
        ("file", "order 7"),
        ("api", "token 4"),
    ]
    assert ends["box"] is None
    assert ends["laptop"] > timezone.now() + timedelta(days=364)


def files_come_to_their_end():
    """As workers do: sweep, and do what is queued."""
    with scope(organisation=Organisation.objects.get()):
        queued = uploads.sweep()
        for sent in list(SentFile.objects.all()):
            inspection.read(sent.pk)
            for _ in range(SentFile.MOST_TRIES):
                uploads.run(sent.pk)
        files = {sent.name.removesuffix(".csv"): sent for sent in SentFile.objects.all()}
        states = {name: (sent.state, sent.done, sent.counted, sent.refused) for name, sent in files.items()}
        assert states == {
            "waiting": ("waiting", 0, 0, 0),
            "running": ("done", 3, 2, 1),
            "failed": ("failed", 1, 1, 0),
            "done": ("done", 3, 2, 1),
            "gone": ("done", 3, 2, 1),
            "discarded": ("discarded", 0, 0, 0),
        }
        assert queued == 5  # all but the one set aside
        waiting, failed = files["waiting"], files["failed"]
        assert [each.state for each in uploads.preview(waiting, Plan.kept(waiting.plan))][2] == "refused"
        uploads.start(sent=failed, plan=Plan.kept(failed.plan), member=failed.sent_by)
        uploads.run(failed.pk)
        for name in ("running", "failed", "done"):
            heading, line = list(uploads.rejects(files[name]))
            assert heading == ["line", "reason", "Unit", "Read on", "Meter"], name
            assert line[2:] == ["T-99", "2026-04-08", "5"], name
        assert list(uploads.rejects(files["gone"]))[1] == [
            "4",
            "No such machine.",
            "T-99",
            "2026-04-08",
            "5",
        ]
        assert uploads.sweep() == 0
        assert Reading.objects.filter(source="file", sender__endswith=".csv").count() == 1  # both held it


def test_no_row_is_lost_and_files_on_their_way_come_to_their_end(left):
    """One test, for going back so far takes a minute."""
    each_row_says_what_it_said(left)
    files_come_to_their_end()
