"""What must be done, when, by whom, and what was done."""

from servicing.models.amendment import Amendment
from servicing.models.check import Check
from servicing.models.duty import Duty
from servicing.models.failure import SafetyFailure
from servicing.models.fault import Fault
from servicing.models.last_done import LastDone
from servicing.models.line import CheckResult, Line
from servicing.models.override import TaskOverride
from servicing.models.part import Part, PartUsed, Stock
from servicing.models.photo import LinePhoto
from servicing.models.program import ProgramVersion, ServiceProgram
from servicing.models.refused_entries import RefusedEntries
from servicing.models.sent_program import SentProgram
from servicing.models.task import Caution, Interval, SupplyNeed, Task, ToolNeed
from servicing.models.technician import Labour, Technician
from servicing.models.track_record import Calibration, KeptProjection
from servicing.models.workorder import WorkOrder

__all__ = [
    "Amendment",
    "Calibration",
    "Caution",
    "Check",
    "CheckResult",
    "Duty",
    "Fault",
    "Interval",
    "KeptProjection",
    "Labour",
    "LastDone",
    "Line",
    "LinePhoto",
    "Part",
    "PartUsed",
    "ProgramVersion",
    "RefusedEntries",
    "SafetyFailure",
    "SentProgram",
    "ServiceProgram",
    "Stock",
    "SupplyNeed",
    "Task",
    "TaskOverride",
    "Technician",
    "ToolNeed",
    "WorkOrder",
]
