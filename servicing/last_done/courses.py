"""How the hours of machines ran, by what was read of them."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta

import numpy as np

from fleet.models import Machine, Reading
from fleet.readings import attachment_hours
from fleet.usage.days import day_of
from servicing.duties import projection
from servicing.last_done.estimate import Course


def read_courses(machines: Collection[Machine], now: datetime) -> Mapping[int, Course]:
    """Return the courses of these machines by id, with no pace beyond their readings.

    Three queries at most.
    """
    read: dict[int, list[tuple[float, float]]] = defaultdict(list)
    of = {machine.pk: machine for machine in machines}
    rows = Reading.objects.counted().filter(machine__in=of, taken_at__lte=now).order_by("taken_at", "pk")
    for pk, at, hours in rows.values_list("machine_id", "taken_at", "hours"):
        read[pk].append((_day(of[pk], at), float(hours)))
    attachments = [pk for pk, machine in of.items() if machine.is_attachment]
    if attachments:
        for point in attachment_hours.histories(attachments, until=now):
            read[point.attachment].append((_day(of[point.attachment], point.at), float(point.hours)))
    return {pk: Course(*_rising(read[pk])) for pk in of}


def read_courses_with_pace(machines: Collection[Machine], now: datetime) -> Mapping[int, Course]:
    """Return the same, each with the machine's usual pace; asks what `projection.learn` asks, too."""
    learned = projection.learn(machines, now=now)
    found = {}
    for pk, course in read_courses(machines, now).items():
        usage, place = learned.pace_of(learned.asked[pk])
        found[pk] = Course(course.days, course.hours, float(usage.mean[place]))
    return found


def _day(machine: Machine, at: datetime) -> float:
    """A moment as a day of the machine's yard, with the fraction by the yard's clocks."""
    offset = at.astimezone(machine.zoneinfo).utcoffset() or timedelta()
    return day_of(at + offset)


def _rising(points: Sequence[tuple[float, float]]) -> tuple[np.ndarray, np.ndarray]:
    if not points:
        return np.zeros(0), np.zeros(0)
    days, hours = np.array(sorted(points)).T
    return days, np.maximum.accumulate(hours)
