"""`manage.py renew_logins`: encrypt every stored login again with the first of the installation's keys."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django_scopes import scopes_disabled

from fleet.core.errors import FleetError
from fleet.models import TelematicsSource
from fleet.telematics import credentials


class Command(BaseCommand):
    help = (
        "Encrypt the logins of telematics sources with the first key of HOURMARK_CREDENTIAL_KEYS. "
        "Put a new key first, run this, then take the old key out."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        done, lost = 0, []
        with scopes_disabled():  # the operator's command goes over all organisations
            for pk in list(TelematicsSource.objects.exclude(secret="").values_list("pk", flat=True)):
                with transaction.atomic():
                    source = TelematicsSource.objects.select_for_update().get(pk=pk)
                    try:
                        source.secret = credentials.renew(source.secret)
                    except FleetError as error:
                        lost.append(f"{source}: {error.sentence}")
                        continue
                    source.save(update_fields=["secret"])
                    done += 1
        self.stdout.write(f"{done} login{'' if done == 1 else 's'} encrypted again.")
        if lost:
            raise CommandError(" ".join(lost))
