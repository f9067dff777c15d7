"""Whether the processes behind the pages are there: each signs in a table, and the web server reads it.

Beat signs when it has put its pulse on the queue, a worker while it listens to the queue, and the pulse
itself when a worker runs it. So a beat that is gone, a worker that is gone and a worker that takes no work
are told apart, and a worker that is only busy with something long is none of them.
"""

import time
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.timesince import timesince
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from fleet.models import SignOfLife

BEAT, WORKER, WORK = SignOfLife.Part
LISTENING_SINCE = time.monotonic()  # nobody is accused of a silence longer than this process has listened


@dataclass(frozen=True)
class Life:
    """What is known of the parts at one moment. Ages in seconds, None where a part never signed."""

    ages: dict[str, float | None]
    gone: tuple[str, ...]
    awaited: tuple[str, ...]

    @property
    def status(self) -> str:
        """`ok`, `starting` (a sign is missing, but it is too early to say) or `unhealthy`."""
        if self.gone:
            return "unhealthy"
        return "starting" if self.awaited else "ok"


def sign(part: str, *, at: datetime | None = None) -> None:
    """Write down that a part lives (now when `at` is left out)."""
    row = SignOfLife(part=part, at=at or timezone.now())
    SignOfLife.objects.bulk_create([row], update_conflicts=True, unique_fields=["part"], update_fields=["at"])


def look(*, now: datetime | None = None, listened: float | None = None) -> Life:
    """Judge the last signs, in one query.

    listened: seconds since when a silence can be held against a part; the age of this process when left out.
    """
    now = now or timezone.now()
    listened = time.monotonic() - LISTENING_SINCE if listened is None else listened
    signed = dict(SignOfLife.objects.values_list("part", "at"))
    # a clock that was set back makes a sign of the future: it is as good as one of this moment
    ages = {part: max(0.0, (now - at).total_seconds()) for part, at in signed.items()}
    late = [part for part, limit in limits().items() if ages.get(part, limit + 1) > limit]
    gone = tuple(part for part in late if listened > limits()[part])
    if WORK in gone and len(gone) > 1:  # nothing is done because a process is gone; it alone is named
        gone = tuple(part for part in gone if part != WORK)
    awaited = tuple(part for part in late if part not in gone)
    return Life(ages={part: ages.get(part) for part in limits()}, gone=gone, awaited=awaited)


def limits() -> dict[str, float]:
    """Return after how many seconds without a sign each part counts as gone.

    Work may wait behind tasks that take as long as a task may, so its limit is longer.
    """
    silence = settings.SILENCE_SECONDS
    return {BEAT: silence, WORKER: silence, WORK: silence + settings.CELERY_TASK_TIME_LIMIT}


def sentences(life: Life) -> list[str]:
    """Say which parts are gone, and since when."""
    return [_gone(part, life.ages[part]) for part in life.gone]


def spoken(life: Life) -> list[tuple[str, str]]:
    """Return each part with its last sign of life, in words."""
    return [(str(NAMES[part]), _last(age)) for part, age in life.ages.items()]


NAMES: dict[str, Promise] = {
    BEAT: gettext_lazy("Scheduler (beat)"),
    WORKER: gettext_lazy("Worker"),
    WORK: gettext_lazy("Last task of the scheduler done"),
}
NEVER: dict[str, Promise] = {
    BEAT: gettext_lazy("The scheduler (beat) has not been heard from yet."),
    WORKER: gettext_lazy("The worker has not been heard from yet."),
    WORK: gettext_lazy("The worker runs, but has done none of the scheduler's tasks yet."),
}
SILENT: dict[str, Any] = {
    BEAT: gettext_lazy("The scheduler (beat) has not been heard from for {age}."),
    WORKER: gettext_lazy("The worker has not been heard from for {age}."),
    WORK: gettext_lazy("The worker runs, but has done none of the scheduler's tasks for {age}."),
}
"""What is said of a part that is gone: if it never signed, and else with the `age` of its last sign."""


def _gone(part: str, age: float | None) -> str:
    return str(NEVER[part]) if age is None else SILENT[part].format(age=_long(age))


def _last(age: float | None) -> str:
    return _("not yet") if age is None else _("{age} ago").format(age=_long(age))


def _long(age: float) -> str:
    """`8 seconds`, or from a minute up as Django tells spans of time."""
    if age < 60:
        seconds = round(age)
        return ngettext("{n} second", "{n} seconds", seconds).format(n=seconds)
    now = timezone.now()
    return timesince(now - timedelta(seconds=age), now, depth=1)
