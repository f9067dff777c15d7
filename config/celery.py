"""The task queue. Start it with `celery --app config worker` and `celery --app config beat`."""

import logging
import os
import sys
from typing import Any

from celery import Celery
from celery.loaders.app import AppLoader
from django.core.exceptions import ImproperlyConfigured
from kombu.transport import TRANSPORT_ALIASES

TRANSPORT_ALIASES["files"] = "config.file_broker:Transport"
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
log = logging.getLogger(__name__)


class Loader(AppLoader):
    """Reads the settings for worker and beat; what is wrong with them ends the start with one line."""

    def config_from_object(self, obj: Any, silent: bool = False) -> Any:
        """Read the settings."""
        try:
            return super().config_from_object(obj, silent=silent)
        except ImproperlyConfigured as error:
            sys.exit(f"hourmark: {error}")

    def on_worker_init(self) -> None:
        """Look at the database before a worker or beat starts; one that doesn't answer is waited for."""
        from config import starting  # Django is set up only now

        try:
            starting.check_database()
        except starting.Unreachable as error:
            log.warning("%s; it is tried again", error)
        except ImproperlyConfigured as error:
            sys.exit(f"hourmark: {error}")


app = Celery("hourmark", task_cls="fleet.core.queue:OrganisationTask", loader="config.celery:Loader")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
app.steps["consumer"].add("config.pulse:Listening")
