"""The life of a work order: planned, started, on hold, closed or cancelled.

A closed order can be corrected; what it said before stays (`amend`).

Every change names the revision it was made from. Where the order has moved on meanwhile, OrderMoved says to
what and by whom, and nothing is changed.

A machine is in the shop while one of its orders is started, or on hold after it was started: a machine that
waits for a part may be half apart, so it is free again only when that order is closed or cancelled.
"""

from servicing.workorders.amendments import Correction, amend, corrections, may_amend
from servicing.workorders.attempt import refuse
from servicing.workorders.closing import close, record
from servicing.workorders.closing_reading import reading_of
from servicing.workorders.conflicts import differing, recorder_of, recorders
from servicing.workorders.entries import CheckEntry, Entries, LabourEntry, LineEntry, PartEntry
from servicing.workorders.errors import NotReady, OrderMoved, OrderNotReadyFor, Problem, Recorder, Undecided
from servicing.workorders.judging import SENTENCES, rules, why_not_unfitted
from servicing.workorders.lifecycle import assign, cancel, hold, resume, start
from servicing.workorders.locking import in_its_way
from servicing.workorders.new_order import plan
from servicing.workorders.photos import add_photo
from servicing.workorders.saved_entries import stored

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
    "cancel",
    "close",
    "corrections",
    "differing",
    "hold",
    "in_its_way",
    "may_amend",
    "plan",
    "reading_of",
    "record",
    "recorder_of",
    "recorders",
    "refuse",
    "resume",
    "rules",
    "start",
    "stored",
    "why_not_unfitted",
]
