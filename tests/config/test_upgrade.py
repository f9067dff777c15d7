"""Whatever an installation holds is all there after an upgrade: every row, and every value in it.

`FROM` is the schema that installations are upgraded from: it stays where it is while migrations are added.
A migration that renames says so below, and every migration must be able to run backwards, as this does first.
"""

from collections import defaultdict
from datetime import UTC, datetime
from decimal import Decimal
from io import StringIO

import pytest
from django.apps import apps as django_apps
from django.core.management import call_command
from django.db import connection, models
from django.db.migrations.executor import MigrationExecutor
from django_scopes import scopes_disabled

FROM = [
    ("fleet", "0009_notes_of_a_return"),
    ("servicing", "0006_sent_programs"),
    ("notifications", "0003_message_mail_id"),
]
RENAMED_MODELS = {"servicing.Defect": "servicing.Fault"}
RENAMED_FIELDS = {
    ("fleet.Decision", "takes_back"): "undoes",
    ("servicing.Line", "put_off_until"): "deferred_until",
    ("servicing.Duty", "put_off_until"): "deferred_until",
    ("servicing.Duty", "put_off_reason"): "deferred_reason",
    ("servicing.WorkOrder", "parked_reason"): "hold_reason",
    ("servicing.WorkOrder", "withdrawn_reason"): "cancel_reason",
    ("servicing.WorkOrder", "withdrawn_at"): "cancelled_at",
}
RENAMED_VALUES = {
    ("fleet.Reading", "state"): {"struck": "discarded"},
    ("fleet.Decision", "kind"): {"taken back": "undone"},
    ("fleet.Decision", "was"): {"struck": "discarded"},
    ("fleet.Decision", "became"): {"struck": "discarded"},
    ("servicing.Line", "outcome"): {"left": "deferred"},
    ("servicing.WorkOrder", "state"): {"parked": "on hold", "withdrawn": "cancelled"},
    ("notifications.ToldFact", "key"): {"duty:7:past": "duty:7:overdue"},
    ("notifications.ToldFact", "fingerprint"): {"parked 2026-05-04": "on hold 2026-05-04"},
}
REWRITTEN = {
    ("servicing.Line", "duty_before"): (
        {"put_off_until": "2026-05-09", "put_off_reason": "kept", "mark_hours": "9.0"},
        {"deferred_until": "2026-05-09", "deferred_reason": "kept", "mark_hours": "9.0"},
    ),
    ("servicing.Amendment", "before"): (
        {"lines": [{"outcome": "left", "put_off_until": "2026-05-09"}], "parts": []},
        {"lines": [{"outcome": "deferred", "deferred_until": "2026-05-09"}], "parts": []},
    ),
}
"""What is kept as JSON with names in it: before and after the upgrade."""

THEN = datetime(2026, 5, 4, 10, tzinfo=UTC)
VALUES = [
    (models.BooleanField, True),
    (models.DateTimeField, THEN),
    (models.DateField, THEN.date()),
    (models.DecimalField, Decimal("1.5")),
    (models.FloatField, 1.5),
    (models.IntegerField, 1),
    (models.JSONField, ["kept"]),
    (models.BinaryField, b"kept"),
    (models.EmailField, "kept@example.org"),
    (models.GenericIPAddressField, "192.0.2.1"),  # RFC 5737
    (models.SlugField, "kept"),
    (models.CharField, "kept"),
    (models.TextField, "kept"),
    (models.FileField, "kept/photo.jpg"),
]

DIFFERENT = {
    "ApiToken": {"limited": False},
    "Organisation": {"zone": "Europe/Madrid"},
    "Member": {"role": "owner"},
    "Machine": {"condition": "dust"},
    "Ask": {"matter": "book"},
    "Attachment": {"condition": "dust", "tag": "A-01", "code": "ATTACHED", "serial": "A1", "pin": "A1"},
    "Booking": {"kind": "hire"},
    "Reading": {"state": "struck", "corrects": None},
    "Decision": {"kind": "taken back", "was": "struck", "became": "struck", "takes_back": None},
    "Newcomer": {"withdrawn_at": None},
    "TelematicsSource": {"every_minutes": 60},
    "TelematicsUnit": {"ignored": False},
    "WorkOrder": {"state": "closed"},
    "ProgramVersion": {"invented": False},
    "Task": {"skill": "technician", "steps": ["Start the engine."]},
    "Interval": {"once": False, "every_hours": Decimal(100)},
    "Check": {"kind": "measure"},
    "Line": {"outcome": "left"},
    "KeptProjection": {"mark_hours": Decimal(9)},
    "TaskOverride": {"left_out": False},
    "Message": {"newcomer": None, "state": "sent"},
    "Duty": {"forward_reason": "kept nears its limit of 1.5\u00a0kept at about 460\u00a0h"},
}
"""What the tables' own conditions ask for, by model; everything else is filled by the kind of its field."""

MORE = {
    "ToldFact": [
        {"key": "duty:7:past", "fingerprint": "100 None"},
        {"key": "order:7", "fingerprint": "parked 2026-05-04"},
    ],
    "WorkOrder": [
        {"state": state, "number": number}
        for number, state in enumerate(("planned", "started", "parked", "withdrawn"), start=2)
    ],
    "Line": [
        {"outcome": outcome, "open": False} for outcome in ("", "done", "adjusted", "referred", "not fitted")
    ],
}
"""More rows of a model, one for each value that a migration may say otherwise."""


def filled(field):
    """A value that such a field can hold and that no default is."""
    value = next(value for kind, value in VALUES if isinstance(field, kind))
    longest = getattr(field, "max_length", None)
    return value[:longest] if isinstance(value, str) and longest else value


def value_for(label, field):
    """A value of such a field, as the schema that is upgraded from keeps it."""
    before, _ = REWRITTEN.get((label, field.name), (None, None))
    return before or filled(field)


def row_of(model, rows, *, whole):
    """The values of a new row; None while one that it refers to is missing.

    whole: also one that it can do without.
    """
    values = {}
    for field in model._meta.concrete_fields:
        if field.name in (differs := DIFFERENT.get(model.__name__, {})):
            values[field.name] = differs[field.name]
        elif field.is_relation and not field.remote_field.parent_link:
            other = rows.get(field.related_model._meta.label)
            if other is None and (not field.null or (whole and field.related_model is not model)):
                return None
            values[field.name] = other
        elif not field.is_relation and not field.primary_key:
            values[field.name] = value_for(model._meta.label, field)
    return values


def fill(apps):
    """Keep a row of each model, with a value in every field that can have one, and those of MORE."""
    rows, more, left = {}, [], [model for app, _ in FROM for model in apps.get_app_config(app).get_models()]
    while left:
        ready = (
            (model, values)
            for whole in (True, False)
            for model in left
            if (values := row_of(model, rows, whole=whole)) is not None
        )
        model, values = next(ready)
        rows[model._meta.label] = model._base_manager.create(**values)
        more += [model._base_manager.create(**values | each) for each in MORE.get(model.__name__, [])]
        left.remove(model)
    for row in rows.values():
        for field in row._meta.many_to_many:
            if other := rows.get(field.related_model._meta.label):
                getattr(row, field.name).add(other)
    held = defaultdict(list)
    for row in [*rows.values(), *more]:
        held[row._meta.label].append(values_of(type(row), row.pk))
    return held


@scopes_disabled()  # the rows of whichever organisation
def values_of(model, pk):
    row = model._base_manager.get(pk=pk)
    values = {field.name: field.value_from_object(row) for field in model._meta.concrete_fields}
    for field in model._meta.many_to_many:
        values[field.name] = sorted(getattr(row, field.name).values_list("pk", flat=True))
    # PostgreSQL's bytes come as a view of memory
    return {name: bytes(value) if isinstance(value, memoryview) else value for name, value in values.items()}


@pytest.fixture
def kept(transactional_db):
    """What an installation of that schema held, after it was upgraded; in the end all is as it is now."""
    executor = MigrationExecutor(connection)
    executor.migrate(FROM)
    held = fill(MigrationExecutor(connection).loader.project_state(FROM).apps)
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())
    yield held
    call_command("flush", interactive=False, stdout=StringIO())


def key_of(values):
    return values[next(iter(values))]


def upgraded(label, name, value):
    """The value as it is to be kept after the upgrade."""
    if (label, name) in REWRITTEN:
        return REWRITTEN[label, name][1]
    renamed = RENAMED_VALUES.get((label, name), {})
    return renamed.get(value, value) if renamed else value


def test_every_row_is_there_with_every_value(kept):
    assert len(kept) > 50
    for label, rows in kept.items():
        model = django_apps.get_model(RENAMED_MODELS.get(label, label))
        for values in rows:
            now = values_of(model, key_of(values))
            for name, value in values.items():
                said = now[RENAMED_FIELDS.get((label, name), name)]
                assert said == upgraded(label, name, value), f"{label}.{name}"


def test_every_row_goes_back_as_it_came(kept):
    """Who must return to the version before loses nothing of what it can hold."""
    executor = MigrationExecutor(connection)
    newest = executor.loader.graph.leaf_nodes()
    executor.migrate(FROM)
    try:
        apps = MigrationExecutor(connection).loader.project_state(FROM).apps
        for label, rows in kept.items():
            for values in rows:
                assert values_of(apps.get_model(label), key_of(values)) == values, label
    finally:
        MigrationExecutor(connection).migrate(newest)


def test_what_the_sentence_named_is_named_by_a_field(kept):
    """0007: the check whose drifting value brought a duty forward."""
    duty = django_apps.get_model("servicing.Duty")._base_manager.get()
    assert duty.forward_check_id == kept["servicing.Check"][0]["id"]


def test_what_steps_said_of_the_engine_is_said_by_a_field(kept):
    """0008: a task whose steps tell one to start it runs it."""
    assert django_apps.get_model("servicing.Task")._base_manager.get().runs is True
