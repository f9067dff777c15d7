"""A meter is replaced, or begins at zero again."""

from decimal import Decimal

import pytest
from django.urls import reverse
from django_scopes import scopes_disabled

from fleet.models import Machine, MeterSegment
from tests.fleet.web.rows import take


@pytest.fixture
def machine(farm, machine):
    with farm.scope():
        take(farm, machine, "9990")
    return machine


def change(house, machine, **data):
    return house.client("manager").post(reverse("meter-replace", args=[machine.pk]), data)


def segments(machine):
    with scopes_disabled():
        return list(MeterSegment.objects.filter(machine=machine).order_by("started_at"))


def hours_of(machine):
    with scopes_disabled():
        return Machine.objects.get(pk=machine.pk).hours


def test_replaced(farm, machine):
    answer = change(
        farm, machine, happened="replaced", old_shows="9995,5", new_shows="0", at="2026-03-04T10:00"
    )
    assert answer["Location"] == reverse("machine", args=[machine.pk])
    old, new = segments(machine)
    assert old.ended_at == new.started_at
    assert (new.began, new.offset, new.recorded_by) == ("replaced", Decimal("9995.50"), farm.manager)
    assert hours_of(machine) == Decimal("9995.50")


def test_rolled_over(farm, machine):
    assert change(farm, machine, happened="rolled over", wraps_at="10000").status_code == 302
    assert segments(machine)[-1].offset == Decimal("10000.00")


@pytest.mark.parametrize(
    ("data", "fields"),
    [
        ({"happened": "replaced"}, {"old_shows", "new_shows"}),
        ({"happened": "rolled over"}, {"wraps_at"}),
        ({"happened": "rolled over", "wraps_at": "77"}, {"wraps_at"}),
        ({"happened": "replaced", "old_shows": "9000", "new_shows": "0"}, {"old_shows"}),
        ({"happened": "replaced", "old_shows": "9999", "new_shows": "0", "at": "2999-01-01T00:00"}, {"at"}),
        ({"happened": "replaced", "old_shows": "9999", "new_shows": "0", "at": "2026-02-01T00:00"}, {"at"}),
        ({"happened": "rolled over", "wraps_at": "1000"}, {"wraps_at"}),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(farm, machine, data, fields):
    answer = change(farm, machine, **data)
    assert answer.status_code == 422
    sent, other = answer.context["replaced"], answer.context["rolled_over"]
    if data["happened"] == "rolled over":
        sent, other = other, sent
    assert sent.errors.keys() == fields
    assert not other.is_bound
    assert len(segments(machine)) == 1


def test_nothing_said_is_nothing_done(farm, machine):
    for happened in ("", "stolen"):
        assert change(farm, machine, happened=happened).status_code == 422
    assert len(segments(machine)) == 1
