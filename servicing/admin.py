"""The operator's view of service programs, duties, orders and what was found. For superusers alone."""

from fleet.admin import KeptAdmin, OperatorAdmin, show
from servicing.models import (
    Amendment,
    Calibration,
    Check,
    CheckResult,
    Duty,
    Fault,
    Interval,
    KeptProjection,
    Labour,
    LastDone,
    Line,
    LinePhoto,
    Part,
    PartUsed,
    ProgramVersion,
    RefusedEntries,
    SafetyFailure,
    SentProgram,
    ServiceProgram,
    Stock,
    Task,
    TaskOverride,
    Technician,
    WorkOrder,
)

show(ServiceProgram, "title code machine_type organisation", kind=KeptAdmin)
show(SentProgram, "name state tries sent_by sent_at organisation", filters="state")
show(ProgramVersion, "program number state made_by made_at organisation", filters="state")
show(Task, "title code version skill minutes organisation", filters="skill", search="title code")
show(Interval, "task organisation")
show(Check, "label task kind unit lower upper safety organisation", filters="kind safety")
show(
    Duty,
    "machine task active mark_hours mark_on likely organisation",
    filters="active",
    search="machine__tag task__title",
)
show(
    LastDone,
    "duty hours on unknown said_by said_at organisation",
    filters="unknown",
    search="duty__machine__tag duty__task__title",
)
show(
    WorkOrder,
    "number machine state planned_for technician organisation",
    filters="state",
    search="machine__tag",
)
show(Line, "title order outcome done_on organisation", filters="outcome")
show(CheckResult, "label line found_value found_passes left_value left_passes recorded_by organisation")
show(Labour, "order technician minutes organisation")
show(PartUsed, "order part quantity organisation")
show(
    Fault,
    "machine text severity reported_by reported_at fixed_at organisation",
    filters="severity",
    search="machine__tag text",
)
show(Part, "number name unit organisation", kind=OperatorAdmin, search="number name")
show(Technician, "member organisation", kind=KeptAdmin)
show(Stock, "part yard quantity reorder_point organisation", search="part__number part__name")
show(
    TaskOverride,
    "machine task_code left_out every_hours every_months organisation",
    search="machine__tag task_code",
)
show(LinePhoto, "line taken_by taken_at organisation")
show(KeptProjection, "machine mark_hours made_at reached_at organisation")
show(Calibration, "organisation early likely late outcomes learned_at")
show(Amendment, "order made_by made_at organisation")
show(SafetyFailure, "label machine order recorded_at re_tested_at organisation")
show(RefusedEntries, "order member since organisation")
