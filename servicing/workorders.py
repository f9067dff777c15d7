"""The life of a work order: planned, started, parked, closed or withdrawn.

A closed order can be corrected; what it said before stays (`amend`).

Every change names the revision it was made from. Where the order has moved on meanwhile, OrderMoved says to
what and by whom, and nothing is changed.

A machine is in the shop while one of its orders is started, or parked after it was started: a machine that
waits for a part may be half apart, so it is free again only when that order is closed or withdrawn.
"""

from servicing.orders.amend import Correction, amend, corrections, may_amend
from servicing.orders.closed import close, record
from servicing.orders.differing import Recorder, differing, recorder_of, recorders
from servicing.orders.entries import (
    SENTENCES,
    CheckEntry,
    Entries,
    LabourEntry,
    LineEntry,
    PartEntry,
    why_not_unfitted,
)
from servicing.orders.hold import in_its_way
from servicing.orders.life import assign, park, resume, start, withdraw
from servicing.orders.meter import reading_of
from servicing.orders.photos import add_photo
from servicing.orders.planned import plan
from servicing.orders.refusals import NotReady, OrderMoved, OrderNotReadyFor, Problem, Undecided
from servicing.orders.refused import refuse
from servicing.orders.stored import stored

__all__ = [
    "SENTENCES",
    "CheckEntry",
    "Correction",
    "Entries",
    "LabourEntry",
    "LineEntry",
    "NotReady",
    "OrderMoved",
    "OrderNotReadyFor",
    "PartEntry",
    "Problem",
    "Recorder",
    "Undecided",
    "add_photo",
    "amend",
    "assign",
    "close",
    "corrections",
    "differing",
    "in_its_way",
    "may_amend",
    "park",
    "plan",
    "reading_of",
    "record",
    "recorder_of",
    "recorders",
    "refuse",
    "resume",
    "start",
    "stored",
    "why_not_unfitted",
    "withdraw",
]
