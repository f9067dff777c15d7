"""Outcomes of a line and states of an order as the version before called them, each with its value now.

Requests, pages and links of before may still say it so. With the next version every use of this module goes.
"""

from servicing.models import Line, WorkOrder

OUTCOMES = {"left": Line.Outcome.DEFERRED.value}
STATES = {"parked": WorkOrder.State.ON_HOLD.value, "withdrawn": WorkOrder.State.CANCELLED.value}
