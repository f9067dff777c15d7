"""The gate: may a unit go out (`answer`), out with it, and back. Hours are taken through fleet's one door."""

from servicing.gate.departures import ask_for, bookings_near, check_out, look_ahead
from servicing.gate.errors import Kept, ServiceFirst, SpokenFor, TaggedOut
from servicing.gate.hire_wording import come_back, gone_out, last_hire
from servicing.gate.readiness import Answer, Verdict, answer, answers
from servicing.gate.returns import FaultSeen, add_to_return, check_in

__all__ = [
    "Answer",
    "FaultSeen",
    "Kept",
    "ServiceFirst",
    "SpokenFor",
    "TaggedOut",
    "Verdict",
    "add_to_return",
    "answer",
    "answers",
    "ask_for",
    "bookings_near",
    "check_in",
    "check_out",
    "come_back",
    "gone_out",
    "last_hire",
    "look_ahead",
]
