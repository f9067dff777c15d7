"""Who sent a reading is a kind and which of that kind: no name of a file passes for anything else."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from importlib import import_module

import pytest
from django.apps import apps
from django.db import connection
from django_scopes import scopes_disabled

from fleet import readings
from fleet.models import Reading
from fleet.readings import Submitted, decisions, meter_changes
from tests.factories import ReadingFactory

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)


def take(house, *rows, source="file", sender="hours.csv"):
    return readings.take(organisation=house.organisation, rows=rows, source=source, sender=sender, now=NOW)


def sent(machine, shows, days, **kwargs):
    return Submitted(machine=machine.pk, taken_at=NOON + timedelta(days=days), shows=shows, **kwargs)


@pytest.mark.parametrize("name", ["meter change", "correction", "order 1"])
def test_a_file_is_judged_alike_whatever_its_name(in_farm, machine, name):
    """560 h for 56 h is counted while nothing else is known; what comes in later makes it a slip."""
    twin = in_farm.machine(tag="T-08")
    for each, called in ((machine, name), (twin, "hours.csv")):
        take(in_farm, sent(each, 560, 90), sender=called)
        take(in_farm, *(sent(each, shows, day) for day, shows in ((0, 50), (30, 52), (60, 55))))
    states, usual = (
        list(Reading.objects.filter(machine=each).order_by("taken_at").values_list("state", flat=True))
        for each in (machine, twin)
    )
    assert usual == ["counted"] * 3 + ["held"]
    assert states == usual
    assert Reading.objects.filter(source="file", sender=name).count() == 1


def test_what_ends_and_begins_a_meter_is_of_that_kind_and_stays(in_farm, machine):
    take(in_farm, sent(machine, 100, 0))
    meter_changes.replace(
        machine=machine, at=NOON + timedelta(days=5), old_shows=Decimal(120), new_shows=Decimal(0),
        member=in_farm.manager,
    )  # fmt: skip
    kinds = set(Reading.objects.values_list("source", "sender"))
    assert kinds == {("file", "hours.csv"), ("meter", "")}


def test_client_ids_are_each_senders_own_by_kind_and_id(in_farm, machine):
    one, other, again = (
        take(in_farm, sent(machine, 100 + n, n, client_id="a"), source=source, sender="office")[0].state
        for n, source in enumerate(("file", "telematics", "file"))
    )
    assert (one, other, again) == ("counted", "counted", "duplicate")


@pytest.mark.parametrize(
    ("source", "sender", "said"),
    [
        ("order", "12", "order 12"),
        ("file", "meter change", "meter change"),
        ("telematics", "Feed", "Feed"),
        ("meter", "", "nobody named"),
    ],
)
def test_it_is_named_in_words(in_farm, machine, source, sender, said):
    assert Reading(machine=machine, source=source, sender=sender).sent_by == said
    person = in_farm.manager
    assert Reading(machine=machine, source=source, sender=sender, taken_by=person).sent_by == str(person)


def test_corrections_are_of_that_kind(in_farm, machine):
    wrong = take(in_farm, sent(machine, 100, 0))[0].reading
    new = decisions.correct(reading=wrong, shows=Decimal(101), member=in_farm.manager)
    assert (new.source, new.sender) == ("correction", "")


OLD = [
    ("page", "meter change"), ("page", "correction"), ("page", "new machine"), ("page", "page"),
    ("order", "order 12"), ("file", "meter change"), ("file", "order 12"), ("api", "token 5"),
]  # fmt: skip
NEW = [
    ("meter", ""), ("correction", ""), ("machine", ""), ("page", "page"),
    ("order", "12"), ("file", "meter change"), ("file", "order 12"), ("api", "token 5"),
]  # fmt: skip


def test_what_is_kept_is_carried_over_and_back(in_farm, machine):
    """The migration's own functions on rows as they were kept until now."""
    for n, (source, sender) in enumerate(OLD):
        ReadingFactory(machine=machine, taken_at=NOON + timedelta(n), shows=n, source=source, sender=sender)
    migration = import_module("fleet.migrations.0008_kinds_of_senders")

    class Editor:
        pass

    editor = Editor()
    editor.connection = connection

    def kept():
        return list(Reading.objects.order_by("taken_at").values_list("source", "sender"))

    with scopes_disabled():
        migration.tell_apart(apps, editor)
    assert kept() == NEW
    with scopes_disabled():
        migration.mix_again(apps, editor)
    assert kept() == OLD
