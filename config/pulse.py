"""Signs of life of beat and of each worker, from inside these processes; `/health` reads them."""

import logging
from typing import Any

from celery import bootsteps
from celery.beat import PersistentScheduler
from django.conf import settings
from django.db import DatabaseError, connection

from fleet import signs_of_life

log = logging.getLogger(__name__)
PULSE = "fleet.tasks.pulse"


class Scheduler(PersistentScheduler):
    """Beat's scheduler, which signs each time it has put its pulse on the queue."""

    def apply_async(self, entry: Any, producer: Any = None, advance: bool = True, **kwargs: Any) -> Any:
        """Queue what is due; raises SchedulingError, and signs nothing, when the broker doesn't take it."""
        result = super().apply_async(entry, producer=producer, advance=advance, **kwargs)
        if entry.task == PULSE:
            _sign(signs_of_life.BEAT)
        return result


class Listening(bootsteps.StartStopStep):
    """Signs for a worker while it is connected to the broker and listens to the queue."""

    requires = ("celery.worker.consumer.tasks:Tasks",)

    def __init__(self, consumer: Any, **kwargs: Any) -> None:
        self._timer: Any = None
        super().__init__(consumer, **kwargs)

    def start(self, consumer: Any) -> None:
        """Sign now and from now on."""
        _sign(signs_of_life.WORKER)
        self._timer = consumer.timer.call_repeatedly(
            settings.SWEEP_SECONDS, _sign, args=(signs_of_life.WORKER,)
        )

    def stop(self, consumer: Any) -> None:
        """Sign no more: the connection is lost, or the worker ends."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    shutdown = stop


def _sign(part: str) -> None:
    """Sign, and let go of the connection: a worker's children must not inherit it."""
    try:
        signs_of_life.sign(part)
    except DatabaseError as error:
        log.warning("the sign of life was not written: %s", str(error).strip().partition("\n")[0])
    finally:
        connection.close()
