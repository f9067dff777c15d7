"""Two organisations with one of everything, made once for each file; what a test does to them is undone."""

from collections.abc import Iterator
from dataclasses import dataclass

import pytest
import time_machine
from django.db import transaction
from pytest_django import DjangoDbBlocker

from tests.cast import build_house
from tests.doors.rows import NOW, Rows, everything
from tests.doors.snapshot import tables


@dataclass(frozen=True)
class World:
    """The farm, the other organisation, and what the tables held before anybody came."""

    ours: Rows
    theirs: Rows
    before: dict[str, tuple[int, str]]


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
    with django_db_blocker.unblock(), time_machine.travel(NOW, tick=False), transaction.atomic():
        ours = everything(build_house(name="Alder Farm", slug="alder-farm"))
        theirs = everything(build_house(name="Birch Rentals", slug="birch-rentals"))
        yield World(ours, theirs, tables())
        transaction.set_rollback(True)


@pytest.fixture
def world(made: World, db: None) -> World:
    """Both organisations, for one test; pytest-django's transaction lies within that of the file."""
    return made


@pytest.fixture
def ours(world: World) -> Rows:
    """What the farm has."""
    return world.ours


@pytest.fixture
def theirs(world: World) -> Rows:
    """What the other organisation has."""
    return world.theirs


@pytest.fixture
def unchanged(world: World) -> object:
    """Ask whether the tables hold what they held before anybody came."""
    return lambda: tables() == world.before
