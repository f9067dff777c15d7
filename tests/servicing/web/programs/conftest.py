"""A type with a program in force, and a draft of its next version."""

from datetime import UTC, datetime
from decimal import Decimal as H

import pytest
from django.urls import reverse

from servicing.models import ProgramVersion
from tests.factories import IntervalFactory, MachineTypeFactory, ProgramVersionFactory, TaskFactory


@pytest.fixture
def kind(farm):
    return MachineTypeFactory(organisation=farm.organisation)


@pytest.fixture
def current(farm, kind):
    """The type's program: oil first at 50, then every 200 h; a filter at 100 h."""
    version = ProgramVersionFactory(
        program__organisation=farm.organisation,
        program__machine_type=kind,
        program__title="Tractor",
        program__round=["seat", "front"],
        made_at=datetime(2026, 1, 1, tzinfo=UTC),
    )
    oil = TaskFactory(version=version, code="oil", title="Oil", steps=["Drain.", "Fill."], position=0)
    IntervalFactory(task=oil, first_hours=H(50), every_hours=H(200), anchor="done", early_window_hours=H(5))
    IntervalFactory(task=TaskFactory(version=version, code="filter", title="Filter", position=1))
    return version


@pytest.fixture
def draft(farm, current):
    farm.client("manager").post(reverse("program-draft-begin", args=[current.program_id]))
    with farm.scope():
        return ProgramVersion.objects.drafts().get()
