"""Two people send one list at the same moment: it is saved once."""

import pytest
from django.db import connection
from django_scopes import scope, scopes_disabled

from fleet.machine_list import saving
from fleet.machine_list.saving import NotRight
from fleet.models import Machine, MachineType
from tests.at_once import at_once
from tests.fleet.machine_list.conftest import Lists

LIST = "Tag,Make,Model,Category,Hours,Since\n" + "".join(
    f"T-{n:02d},Arden,40C,tractor,{n},2019-05-13\n" for n in range(1, 15)
)


@pytest.mark.service
@pytest.mark.usefixtures("several_writers")
@pytest.mark.django_db(transaction=True)
def test_a_list_sent_twice_at_once_is_saved_once(farm):
    with farm.scope():
        lists = Lists(farm)
        table, answers = lists.table(LIST), lists.settle(LIST)

    def send():
        with scope(organisation=farm.organisation):
            try:
                return len(saving.add(table=table, answers=answers, member=farm.manager).machines)
            except NotRight as error:
                return len(error.judged.here)

    assert at_once(send, send) == [14, 14]
    with scopes_disabled():
        assert (Machine.objects.count(), MachineType.objects.count()) == (14, 1)
    connection.close()
