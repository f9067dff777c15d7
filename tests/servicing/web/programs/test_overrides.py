"""A machine departs from its program and follows it again."""

from django.urls import reverse

from servicing.models import TaskOverride
from tests.factories import MachineFactory


def test_a_machine_departs_and_follows_again(farm, kind, current):
    machine = MachineFactory(organisation=farm.organisation, type=kind, tag="T-1")
    client, page = farm.client("manager"), reverse("machine-depart", args=[machine.pk])
    with farm.scope():
        oil = current.tasks.get(code="oil")
    nothing = client.post(page, {"task": oil.pk, "how": "interval", "reason": "Dust."})
    assert nothing.context["form"].errors == {"every_hours": ["Enter hours, months or both."]}
    entry = {"task": oil.pk, "how": "interval", "every_hours": "75", "reason": "Old engine."}
    assert client.post(page, entry).status_code == 302
    words = client.get(machine.get_absolute_url()).content.decode()
    assert "Oil: every 75&nbsp;h" in words
    assert f"Old engine. ({farm.manager}" in words
    with farm.scope():
        made = TaskOverride.objects.get()
    assert "End the deviation" not in farm.client("counter").get(machine.get_absolute_url()).content.decode()
    assert farm.client("counter").post(reverse("machine-depart-end", args=[made.pk])).status_code == 403
    assert client.post(reverse("machine-depart-end", args=[made.pk])).status_code == 302
    with farm.scope():
        assert not TaskOverride.objects.exists()
