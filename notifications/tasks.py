"""The queue's door to notifications."""

from celery import shared_task

from fleet.core.queue import publish_on_commit
from fleet.models import Organisation
from notifications import digests, outbox


@shared_task
def write_digests() -> None:
    """Every quarter of an hour: let each organisation see whether its digest hour has come."""
    for organisation_id in Organisation.objects.values_list("pk", flat=True):
        publish_on_commit("notifications.tasks.write_digests_of", organisation_id=organisation_id)


@shared_task
def write_digests_of(*, organisation_id: int) -> None:
    """Write one organisation's digests if they are due."""
    digests.write_digests(organisation=Organisation.objects.get(pk=organisation_id))


@shared_task
def deliver_message(*, organisation_id: int, message_id: int) -> None:
    """Send one message."""
    outbox.deliver(message_id=message_id)


@shared_task
def sweep_outbox() -> None:
    """Every minute: pick up what waits or is stuck."""
    outbox.sweep()
