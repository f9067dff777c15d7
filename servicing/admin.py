"""The operator's view of service programs, duties, orders and what was found. For superusers alone."""

from django.contrib import admin

from fleet.admin import KeptAdmin, OperatorAdmin, RecordAdmin
from servicing.models import (
    Amendment,
    Calibration,
    Check,
    CheckResult,
    Defect,
    Duty,
    Interval,
    KeptProjection,
    Labour,
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


@admin.register(ServiceProgram)
class ServiceProgramAdmin(KeptAdmin):
    list_display = ["title", "code", "machine_type", "organisation"]
    list_select_related = ["machine_type", "organisation"]
    raw_id_fields = ["organisation", "machine_type"]


@admin.register(SentProgram)
class SentProgramAdmin(RecordAdmin):
    list_display = ["name", "state", "tries", "sent_by", "sent_at", "organisation"]
    list_filter = ["state"]
    list_select_related = ["sent_by__user", "organisation"]


@admin.register(ProgramVersion)
class ProgramVersionAdmin(RecordAdmin):
    """A new version is loaded as a whole."""

    list_display = ["program", "number", "state", "made_by", "made_at", "organisation"]
    list_filter = ["state"]
    list_select_related = ["program", "made_by__user", "organisation"]


@admin.register(Task)
class TaskAdmin(RecordAdmin):
    list_display = ["title", "code", "version", "skill", "minutes", "organisation"]
    list_filter = ["skill"]
    list_select_related = ["version__program", "organisation"]
    search_fields = ["title", "code"]


@admin.register(Interval)
class IntervalAdmin(RecordAdmin):
    list_display = ["task", "organisation"]
    list_select_related = ["task", "organisation"]


@admin.register(Check)
class CheckAdmin(RecordAdmin):
    list_display = ["label", "task", "kind", "unit", "lower", "upper", "safety", "organisation"]
    list_filter = ["kind", "safety"]
    list_select_related = ["task", "organisation"]


@admin.register(Duty)
class DutyAdmin(RecordAdmin):
    """Worked out from programs and work done; never by hand."""

    list_display = ["machine", "task", "active", "mark_hours", "mark_on", "likely", "organisation"]
    list_filter = ["active"]
    list_select_related = ["machine", "task", "organisation"]
    search_fields = ["machine__tag", "task__title"]


@admin.register(WorkOrder)
class WorkOrderAdmin(RecordAdmin):
    list_display = ["number", "machine", "state", "planned_for", "technician", "organisation"]
    list_filter = ["state"]
    list_select_related = ["machine", "technician__member__user", "organisation"]
    search_fields = ["machine__tag"]


@admin.register(Line)
class LineAdmin(RecordAdmin):
    list_display = ["title", "order", "outcome", "done_on", "organisation"]
    list_filter = ["outcome"]
    list_select_related = ["order__machine", "organisation"]


@admin.register(CheckResult)
class CheckResultAdmin(RecordAdmin):
    list_display = [
        "label",
        "line",
        "found_value",
        "found_passes",
        "left_value",
        "left_passes",
        "recorded_by",
        "organisation",
    ]
    list_select_related = ["line", "recorded_by__user", "organisation"]


@admin.register(Labour)
class LabourAdmin(RecordAdmin):
    list_display = ["order", "technician", "minutes", "organisation"]
    list_select_related = ["order__machine", "technician__member__user", "organisation"]


@admin.register(PartUsed)
class PartUsedAdmin(RecordAdmin):
    list_display = ["order", "part", "quantity", "organisation"]
    list_select_related = ["order__machine", "part", "organisation"]


@admin.register(Defect)
class DefectAdmin(RecordAdmin):
    list_display = ["machine", "text", "severity", "reported_by", "reported_at", "fixed_at", "organisation"]
    list_filter = ["severity"]
    list_select_related = ["machine", "reported_by__user", "organisation"]
    search_fields = ["machine__tag", "text"]


@admin.register(Part)
class PartAdmin(OperatorAdmin):
    list_display = ["number", "name", "unit", "organisation"]
    list_select_related = ["organisation"]
    search_fields = ["number", "name"]
    raw_id_fields = ["organisation"]


@admin.register(Technician)
class TechnicianAdmin(KeptAdmin):
    list_display = ["member", "organisation"]
    list_select_related = ["member__user", "organisation"]
    raw_id_fields = ["organisation", "member"]


@admin.register(Stock)
class StockAdmin(RecordAdmin):
    """Counted on the parts' pages, used by orders."""

    list_display = ["part", "yard", "quantity", "reorder_point", "organisation"]
    list_select_related = ["part", "yard", "organisation"]
    search_fields = ["part__number", "part__name"]


@admin.register(TaskOverride)
class TaskOverrideAdmin(RecordAdmin):
    list_display = ["machine", "task_code", "left_out", "every_hours", "every_months", "organisation"]
    list_select_related = ["machine", "organisation"]
    search_fields = ["machine__tag", "task_code"]


@admin.register(LinePhoto)
class LinePhotoAdmin(RecordAdmin):
    list_display = ["line", "taken_by", "taken_at", "organisation"]
    list_select_related = ["line", "taken_by__user", "organisation"]


@admin.register(KeptProjection)
class KeptProjectionAdmin(RecordAdmin):
    list_display = ["machine", "mark_hours", "made_at", "reached_at", "organisation"]
    list_select_related = ["machine", "organisation"]


@admin.register(Calibration)
class CalibrationAdmin(RecordAdmin):
    list_display = ["organisation", "early", "likely", "late", "outcomes", "learned_at"]
    list_select_related = ["organisation"]


@admin.register(Amendment)
class AmendmentAdmin(RecordAdmin):
    list_display = ["order", "made_by", "made_at", "organisation"]
    list_select_related = ["order", "made_by__user", "organisation"]


@admin.register(SafetyFailure)
class SafetyFailureAdmin(RecordAdmin):
    list_display = ["label", "machine", "order", "recorded_at", "re_tested_at", "organisation"]
    list_select_related = ["machine", "order", "organisation"]


@admin.register(RefusedEntries)
class RefusedEntriesAdmin(RecordAdmin):
    list_display = ["order", "member", "since", "organisation"]
    list_select_related = ["order", "member__user", "organisation"]
