"""How work is handed to the task queue: after commit, without ever failing a person's request."""

import logging
from collections.abc import Callable
from typing import Any

from celery import Task
from django.db import transaction
from django_scopes import scope
from kombu.exceptions import OperationalError

log = logging.getLogger(__name__)


def publish_on_commit(task: Any, **kwargs: Any) -> None:
    """Queue `task(**kwargs)` once the open transaction has committed.

    A broker that is down, full or broken is logged and nothing more: what a task would do the next sweep
    finds too.
    """
    transaction.on_commit(lambda: _publish(task, kwargs))


def _publish(task: Any, kwargs: dict[str, Any]) -> None:
    try:
        task.apply_async(kwargs=kwargs, retry=False)
    except (OperationalError, OSError) as error:
        log.warning("the broker is down (%s); %s waits for the next sweep", error, task.name)
    except Exception:  # each broker breaks in ways of its own, and none may fail the person's request
        log.exception("the broker refused %s; it waits for the next sweep", task.name)


class OrganisationTask(Task):
    """A task whose keyword `organisation_id`, when given, opens that organisation's scope around the run."""

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        organisation_id = kwargs.get("organisation_id")
        run: Callable[..., Any] = super().__call__
        if organisation_id is None:
            return run(*args, **kwargs)
        from fleet.models import Organisation  # the app registry is not ready when this module loads

        with scope(organisation=Organisation.objects.get(pk=organisation_id)):
            return run(*args, **kwargs)
