"""A machine is found by what a person types of it, and called without its hyphens and blanks."""

from datetime import UTC, date, datetime

import pytest

from fleet.core.squeezed import squeeze
from fleet.models import Hire, Machine
from tests.factories import BookingFactory

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
pytestmark = pytest.mark.django_db


@pytest.fixture
def machines(farm):
    farm.yard.name = "Home yard"
    farm.yard.save()
    first = farm.machine(
        tag="T-07", serial="HX25-00193", code="4QK7ZB0M", type__maker="Haldane", type__model="HX 25"
    )
    farm.machine(tag="T-17", code="YYYYYYYY", type__maker="Tarnbeck", type__model="1900 L")
    hired = farm.machine(tag="GN 05", code="XXXXXXXX", type__maker="Brindolf", type__model="B30-3")
    Hire(
        organisation=farm.organisation, machine=hired, hirer="Tallis Fencing", out_at=NOW, hours_out=0
    ).save()
    BookingFactory(machine=first, what="Pau Vila", first_on=date(2026, 3, 4), last_on=date(2026, 3, 5))
    return farm


@pytest.mark.parametrize(("typed", "found"), [
    ("t07", ["T-07"]),
    ("T 07", ["T-07"]),
    ("t-", ["T-07", "T-17"]),
    ("07", ["T-07"]),
    ("hx2500193", ["T-07"]),
    ("0193", ["T-07"]),
    ("hx 25", ["T-07"]),
    ("haldane hx", ["T-07"]),
    ("fencing", ["GN 05"]),
    ("tallis brindolf", ["GN 05"]),
    ("gn-05", ["GN 05"]),
    ("vila", ["T-07"]),
    ("4qk7", ["T-07"]),
    ("7zb", []),
    ("ZBOM", ["T-07"]),
    ("home tarnbeck", ["T-17"]),
    ("b303", []),
    ("tallis haldane", []),
    ("%", []),
    ("_", []),
    ("  ", ["GN 05", "T-07", "T-17"]),
])  # fmt: skip
def test_what_is_typed_finds(machines, typed, found):
    with machines.scope():
        rows = Machine.objects.searched(typed).order_by("tag")
        assert [machine.tag for machine in rows] == found


@pytest.mark.parametrize(("name", "tag"), [
    ("t-07", "T-07"), ("T07", "T-07"), (" t 07 ", "T-07"), ("gn05", "GN 05"), ("7", None), ("", None),
    ("-", None),
])  # fmt: skip
def test_a_name_is_one_machine_or_none(machines, name, tag):
    with machines.scope():
        assert getattr(Machine.objects.all().called(name), "tag", None) == tag


def test_a_name_that_two_may_have_is_neither_unless_written_out(farm):
    farm.machine(tag="T-1-1")
    farm.machine(tag="T-11")
    with farm.scope():
        assert Machine.objects.all().called("t11") is None
        assert Machine.objects.all().called("t-11").tag == "T-11"


def test_accents_and_other_letters_are_kept():
    assert squeeze("Ä-07\u00a0b") == "ä07b"
