"""The task queue. Start it with `celery -A config worker` and `celery -A config beat`."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("hourmark", task_cls="fleet.queue:OrganisationTask")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
