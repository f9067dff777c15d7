"""What we own and how far it has run."""

from fleet.core import lookups  # noqa: F401 (registers them)
from fleet.models.access import ApiToken
from fleet.models.answer import KeptAnswer
from fleet.models.ask import Ask
from fleet.models.attachment import Attachment, Mounting
from fleet.models.calendar import Booking, Holiday
from fleet.models.decision import Decision
from fleet.models.hire import Hire
from fleet.models.machine import Fitment, Machine, MachineType, WorkingCondition
from fleet.models.meter import MeterSegment, Reading
from fleet.models.newcomer import Newcomer
from fleet.models.organisation import Member, Organisation, User, Yard
from fleet.models.photo import ReadingPhoto
from fleet.models.sent_file import RejectedRow, SentFile
from fleet.models.setup_step import SetupStep
from fleet.models.sign_in import LetIn
from fleet.models.sign_of_life import SignOfLife
from fleet.models.tagout import TagOut
from fleet.models.telematics import TelematicsSource, TelematicsUnit

__all__ = [
    "ApiToken",
    "Ask",
    "Attachment",
    "Booking",
    "Decision",
    "Fitment",
    "Hire",
    "Holiday",
    "KeptAnswer",
    "LetIn",
    "Machine",
    "MachineType",
    "Member",
    "MeterSegment",
    "Mounting",
    "Newcomer",
    "Organisation",
    "Reading",
    "ReadingPhoto",
    "RejectedRow",
    "SentFile",
    "SetupStep",
    "SignOfLife",
    "TagOut",
    "TelematicsSource",
    "TelematicsUnit",
    "User",
    "WorkingCondition",
    "Yard",
]
