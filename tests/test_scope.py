"""A query on tenant-owned rows outside an opened organisation scope raises."""

import pytest
from django.apps import apps
from django_scopes.exceptions import ScopeError

from fleet.models.base import OrganisationOwned
from tests.factories import DutyFactory, LineFactory, MachineFactory, ReadingFactory

OWNED = [model for model in apps.get_models() if issubclass(model, OrganisationOwned)]


@pytest.mark.parametrize("model", OWNED, ids=lambda model: model.__name__)
def test_query_without_scope_raises(model):
    with pytest.raises(ScopeError):
        model.objects.all()
    with pytest.raises(ScopeError):
        model.objects.filter(pk=1)


def test_factories_keep_to_one_organisation(farm, stranger):
    duty = DutyFactory(machine=MachineFactory(organisation=farm.organisation))
    assert duty.task.version.program.machine_type.organisation == farm.organisation
    assert LineFactory(order__machine=duty.machine).organisation == farm.organisation
    assert ReadingFactory(machine=duty.machine).segment.machine == duty.machine
