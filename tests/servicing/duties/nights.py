"""What a night keeps of the duties that stand in the database, whatever program they come of."""

import numpy as np

from fleet.models import Machine
from fleet.usage.days import number_of
from servicing.duties import accuracy, projection
from servicing.models import Duty


def night(now):
    """Project the live duties at `now` and keep what is said; return how many were kept."""
    duties = list(Duty.objects.live())
    machines = Machine.objects.select_related("yard__organisation", "type")
    learned = projection.learn(machines.filter(pk__in={duty.machine_id for duty in duties}), now=now)
    marks = projection.Marks(
        np.array([duty.machine_id for duty in duties], np.int64),
        np.array([np.nan if duty.mark_hours is None else float(duty.mark_hours) for duty in duties]),
        np.array([np.nan if duty.mark_on is None else number_of(duty.mark_on) for duty in duties]),
    )
    _, said = projection.project(learned, marks)
    return accuracy.keep(marks, said, learned, now=now)
