"""0010: what was struck is discarded, what was taken back is undone, and back again; nothing else moves."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from tests.earlier_tables import empty_and_newest, migrated, row

BEFORE = [("fleet", "0009_notes_of_a_return")]
AFTER = [("fleet", "0010_discarded_readings")]
THEN = datetime(2026, 5, 4, 10, tzinfo=UTC)
# kind, was, became: each kind, and each state on either side
FORMER = [
    ("counted", "held", "counted"),
    ("struck", "held", "struck"),
    ("struck", "counted", "struck"),
    ("corrected", "held", "struck"),
    ("swapped", "counted", "struck"),
    ("meter", "held", "counted"),
    ("by itself", "counted", "held"),
    ("taken back", "struck", "held"),
]
NEW = [
    ("counted", "held", "counted"),
    ("discarded", "held", "discarded"),
    ("discarded", "counted", "discarded"),
    ("corrected", "held", "discarded"),
    ("swapped", "counted", "discarded"),
    ("meter", "held", "counted"),
    ("by itself", "counted", "held"),
    ("undone", "discarded", "held"),
]


@pytest.fixture
def before(transactional_db):
    """The models as they were, on tables as they were; afterwards everything is as it is now again."""
    yield migrated(BEFORE)
    empty_and_newest()


def fill(models, slug):
    """Of one organisation: a reading in each state, and what was decided about the last of them."""
    ours = {"organisation": row(models, "Organisation", name=slug, slug=slug, zone="UTC")}
    yard = row(models, "Yard", name="Home", **ours)
    kind = row(models, "MachineType", maker="Haldane", model="HX 25", category="tractor", **ours)
    machine = row(models, "Machine", tag="T-01", in_service_on=THEN.date(), type=kind, yard=yard, **ours)
    segment = row(models, "MeterSegment", machine=machine, started_at=THEN, **ours)
    for number, state in enumerate(("counted", "held", "struck")):
        reading = row(
            models,
            "Reading",
            machine=machine,
            segment=segment,
            taken_at=THEN + timedelta(days=number),
            shows=Decimal(number),
            hours=Decimal(number),
            state=state,
            code="ok",
            reason="Struck by lightning.",
            source="page",
            **ours,
        )
    for kind, was, became in FORMER[:-1]:
        decided = row(
            models, "Decision", reading=reading, kind=kind, was=was, became=became, note="struck", **ours
        )
    kind, was, became = FORMER[-1]
    row(
        models,
        "Decision",
        reading=reading,
        kind=kind,
        was=was,
        became=became,
        takes_back=decided,
        note="taken back",
        **ours,
    )


def told(models):
    readings = models.get_model("fleet", "Reading")._base_manager.order_by("organisation", "taken_at")
    decisions = models.get_model("fleet", "Decision")._base_manager.order_by("organisation", "pk")
    return (
        list(readings.values_list("state", "reason")),
        list(decisions.values_list("kind", "was", "became")),
        list(decisions.values_list("note", flat=True)),
    )


def undone(models, name):
    """Which decision each one undoes, by their places in the list."""
    decisions = models.get_model("fleet", "Decision")._base_manager.order_by("pk")
    places = {pk: place for place, pk in enumerate(decisions.values_list("pk", flat=True))}
    return [places.get(pk) for pk in decisions.values_list(name, flat=True)]


def test_what_was_struck_is_discarded_and_back_again(before):
    for slug in ("alder-farm", "beech-farm"):
        fill(before, slug)
    reason = "Struck by lightning."
    notes = ["struck"] * 7 + ["taken back"]
    former = [("counted", reason), ("held", reason), ("struck", reason)], FORMER, notes
    new = [("counted", reason), ("held", reason), ("discarded", reason)], NEW, notes
    links = [*[None] * 7, 6, *[None] * 7, 14]
    assert told(before) == tuple(each * 2 for each in former)
    after = migrated(AFTER)
    assert told(after) == tuple(each * 2 for each in new)
    assert undone(after, "undoes") == links
    again = migrated(BEFORE)
    assert told(again) == tuple(each * 2 for each in former)
    assert undone(again, "takes_back") == links
