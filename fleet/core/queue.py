"""How work is handed to the task queue: after commit, without ever failing a person's request."""

import logging
from collections.abc import Callable
from typing import Any

from celery import Task, current_app
from django.apps import apps
from django.db import transaction
from django_scopes import scope
from kombu.exceptions import OperationalError

log = logging.getLogger(__name__)


def publish_on_commit(task: str, **kwargs: Any) -> None:
    """Queue the task of this full name with `kwargs` once the open transaction has committed.

    By name, so that no process imports the tasks, which import the processes. A broker that is down, full or
    broken is logged and nothing more: what a task would do the next sweep finds too.
    """
    transaction.on_commit(lambda: _publish(task, kwargs))


def _publish(task: str, kwargs: dict[str, Any]) -> None:
    try:
        current_app.send_task(task, kwargs=kwargs, retry=False)
    except (OperationalError, OSError) as error:
        log.warning("the broker is down (%s); %s waits for the next sweep", error, task)
    except Exception:  # each broker breaks in ways of its own, and none may fail the person's request
        log.exception("the broker refused %s; it waits for the next sweep", task)


class OrganisationTask(Task):
    """A task whose keyword `organisation_id`, when given, opens that organisation's scope around the run."""

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        organisation_id = kwargs.get("organisation_id")
        run: Callable[..., Any] = super().__call__
        if organisation_id is None:
            return run(*args, **kwargs)
        organisations = apps.get_model("fleet", "Organisation").objects
        with scope(organisation=organisations.get(pk=organisation_id)):
            return run(*args, **kwargs)
