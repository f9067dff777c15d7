"""What work orders look like over the API: going out and coming in."""

from datetime import timedelta
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from fleet.api.former_names import FormerFields
from fleet.api.serializers import HoursField, IdField, KnownFieldsSerializer
from fleet.core.errors import FleetError
from servicing.api.programs import ChoiceSerializer
from servicing.measurements import limits
from servicing.models import Check, CheckResult, Labour, Line, LinePhoto, PartUsed, WorkOrder
from servicing.models.program import INVENTED_FIGURES
from servicing.workorders.former_names import OUTCOMES

LONGEST_WITHOUT_A_LINE = timedelta(days=30)

# ---------------------------------------------------------------- what goes out


class CheckResultSerializer(serializers.ModelSerializer):
    """A check's values exactly as entered, beside the limits that held then."""

    check = IdField(source="check_made_id")
    passes = serializers.BooleanField(allow_null=True, help_text="As left if given, else as found.")
    recorded_by = serializers.CharField(allow_null=True, help_text="Who entered these values.")

    class Meta:
        model = CheckResult
        fields = [
            "check",
            "label",
            "kind",
            "safety",
            "unit",
            "lower",
            "upper",
            "found_value",
            "found_unit",
            "found_word",
            "found_passes",
            "left_value",
            "left_unit",
            "left_word",
            "left_passes",
            "passes",
            "recorded_by",
            "recorded_at",
        ]
        read_only_fields = fields


class LinePhotoSerializer(serializers.ModelSerializer):
    url = serializers.SerializerMethodField(help_text="For members who are signed in.")

    class Meta:
        model = LinePhoto
        fields = ["id", "url", "taken_at"]
        read_only_fields = fields

    def get_url(self, photo: LinePhoto) -> str:
        return reverse("media", args=[photo.image.name])


class ToCheckSerializer(serializers.ModelSerializer):
    """A check that must be entered before its line is done: a number in `unit`, or one of `choices`."""

    choices = ChoiceSerializer(many=True)

    class Meta:
        model = Check
        fields = ["id", "label", "kind", "safety", "unit", "lower", "upper", "choices"]
        read_only_fields = fields


class LineSerializer(serializers.ModelSerializer):
    task_due = IdField(source="duty_id", allow_null=True, help_text="Null: a fault, or it no longer applies.")
    due_hours = serializers.DecimalField(
        9, 2, source="mark_hours", allow_null=True, help_text="As when the order was made."
    )
    due_on = serializers.DateField(source="mark_on", allow_null=True, help_text="As when the order was made.")
    checks = serializers.SerializerMethodField(help_text="Ids of `to_check`.")
    to_check = serializers.SerializerMethodField(help_text="The checks needed to close the order.")
    outcome = serializers.ChoiceField(Line.Outcome.choices, allow_blank=True)
    results = CheckResultSerializer(many=True)
    photos = LinePhotoSerializer(many=True)
    recorded_by = serializers.CharField(
        allow_null=True, help_text="Who entered the outcome, the reason or the note."
    )

    class Meta:
        model = Line
        fields = [
            "id",
            "title",
            "task_due",
            "due_hours",
            "due_on",
            "outcome",
            "reason",
            "deferred_until",
            "done_hours",
            "done_on",
            "note",
            "recorded_by",
            "recorded_at",
            "checks",
            "to_check",
            "results",
            "photos",
        ]
        read_only_fields = fields

    def get_checks(self, line: Line) -> list[int]:
        return [check.pk for check in line.task.checks.all()] if line.task else []

    @extend_schema_field(ToCheckSerializer(many=True))
    def get_to_check(self, line: Line) -> list[dict[str, Any]]:
        return [ToCheckSerializer(check).data for check in line.task.checks.all()] if line.task else []


class PartUsedSerializer(serializers.ModelSerializer):
    number = serializers.CharField(source="part.number")
    unit = serializers.CharField(source="part.unit")

    class Meta:
        model = PartUsed
        fields = ["part", "number", "quantity", "unit"]
        read_only_fields = fields


class LabourSerializer(serializers.ModelSerializer):
    class Meta:
        model = Labour
        fields = ["technician", "minutes"]
        read_only_fields = fields


class DifferenceSerializer(serializers.Serializer):
    what = serializers.CharField(help_text="What was corrected, in words.")
    was = serializers.CharField(help_text="What it said; may be empty.")
    now = serializers.CharField(help_text="What it says now; may be empty.")


class CorrectionSerializer(serializers.Serializer):
    """A correction of a closed order, and what the order said before."""

    made_by = serializers.CharField(source="amendment.made_by")
    made_at = serializers.DateTimeField(source="amendment.made_at")
    reason = serializers.CharField(source="amendment.reason")
    changes = DifferenceSerializer(many=True)
    before = serializers.JSONField(source="amendment.before", help_text="Everything the order said before.")


class OverrulingSerializer(serializers.Serializer):
    """What was in the way of the planned day, and why it was planned anyway."""

    against = serializers.ListField(child=serializers.CharField())
    reason = serializers.CharField()
    by = serializers.CharField()
    at = serializers.DateTimeField()


class OrderSerializer(serializers.ModelSerializer):
    """A work order. Send its `revision` back with every change."""

    machine_tag = serializers.CharField(source="machine.tag")
    technician_name = serializers.CharField(source="technician", allow_null=True, default=None)
    lines = LineSerializer(many=True)
    parts = PartUsedSerializer(many=True)
    labour = LabourSerializer(many=True)
    overruled = OverrulingSerializer(many=True, source="overrulings")
    invented = serializers.BooleanField(help_text=f"Whether to say: {INVENTED_FIGURES}")
    tagged_out = serializers.SerializerMethodField(help_text="Why the machine must not be used now.")
    corrected = serializers.SerializerMethodField(
        help_text="How often it was corrected since it was closed; see `corrections`."
    )

    class Meta:
        model = WorkOrder
        fields = [
            "id",
            "number",
            "state",
            "revision",
            "machine",
            "machine_tag",
            "technician",
            "technician_name",
            "planned_for",
            "made_at",
            "started_at",
            "hold_reason",
            "closed_at",
            "hours_at_close",
            "cancel_reason",
            "note",
            "lines",
            "parts",
            "labour",
            "overruled",
            "invented",
            "tagged_out",
            "corrected",
        ]
        read_only_fields = fields

    def get_corrected(self, order: WorkOrder) -> int:
        return len(order.amendments.all())

    def get_tagged_out(self, order: WorkOrder) -> list[str]:
        return [each.reason for each in order.machine.tag_outs.all() if each.cleared_at is None]


# ---------------------------------------------------------------- what comes in


MOST = 2**31 - 1  # what the columns of plain numbers hold


class PlanSerializer(FormerFields, KnownFieldsSerializer):
    former = {"duties": "tasks_due", "defects": "faults"}

    machine = IdField()
    tasks_due = serializers.ListField(source="duties", child=IdField(), default=list)
    faults = serializers.ListField(child=IdField(), default=list)
    technician = IdField(required=False, allow_null=True, default=None)
    planned_for = serializers.DateField(required=False, allow_null=True, default=None)
    note = serializers.CharField(required=False, allow_blank=True, default="", max_length=1000)
    override_reason = serializers.CharField(
        required=False,
        allow_blank=True,
        default="",
        max_length=500,
        help_text="Why it is planned for a day on which the machine is booked or out on hire.",
    )


class RevisionSerializer(serializers.Serializer):
    revision = serializers.IntegerField(max_value=MOST, help_text="The order's revision as you know it.")


class ReasonSerializer(RevisionSerializer):
    reason = serializers.CharField(allow_blank=True, max_length=500)


class CheckInSerializer(KnownFieldsSerializer):
    """A number as text keeps every digit; for what is looked at or tested, the word."""

    check = IdField()
    found = serializers.CharField(required=False, allow_blank=True, default="", max_length=80)
    found_unit = serializers.CharField(required=False, allow_blank=True, default="", max_length=12)
    left = serializers.CharField(required=False, allow_blank=True, default="", max_length=80)
    left_unit = serializers.CharField(required=False, allow_blank=True, default="", max_length=12)


@extend_schema_field(serializers.ChoiceField(Line.Outcome.choices, allow_blank=True))
class OutcomeField(serializers.CharField):
    """The outcome of a line; also as the version before called it."""

    def to_internal_value(self, data: Any) -> str:
        return OUTCOMES.get(said := super().to_internal_value(data), said)


class LineInSerializer(FormerFields, KnownFieldsSerializer):
    former = {"put_off_until": "deferred_until"}

    line = IdField()
    outcome = OutcomeField(allow_blank=True, help_text='"": not entered yet.')
    reason = serializers.CharField(required=False, allow_blank=True, default="", max_length=500)
    deferred_until = serializers.DateField(required=False, allow_null=True, default=None)
    note = serializers.CharField(required=False, allow_blank=True, default="", max_length=1000)
    checks = CheckInSerializer(many=True, required=False, default=list)


class PartInSerializer(KnownFieldsSerializer):
    part = IdField()
    quantity = serializers.DecimalField(max_digits=12, decimal_places=6, help_text="In the part's unit.")


@extend_schema_field({"oneOf": [{"type": "integer", "maximum": MOST}, {"type": "string"}]})
class MinutesField(serializers.Field):
    """Whole minutes, as a number or as people write them: 75, "75" or "1:15"."""

    def to_internal_value(self, data: object) -> int:
        if isinstance(data, bool) or not isinstance(data, int | str):
            raise serializers.ValidationError(gettext("Send whole minutes, as 75 or as 1:15."))
        try:
            minutes = limits.minutes(str(data))
        except FleetError as error:
            raise serializers.ValidationError(error.sentence) from None
        return minutes

    def to_representation(self, value: int) -> int:
        return value


class LabourInSerializer(KnownFieldsSerializer):
    technician = IdField()
    minutes = MinutesField()


class RecordSerializer(RevisionSerializer):
    """All that has been entered so far: what is left out counts as not entered."""

    lines = LineInSerializer(many=True)
    parts = PartInSerializer(many=True, required=False, default=list)
    labour = LabourInSerializer(many=True, required=False, default=list)


class CloseSerializer(RecordSerializer):
    hours = HoursField(help_text="What the hour meter shows.")
    hours_confirmed = serializers.BooleanField(
        default=False, help_text="The meter was read again; a reading that looks wrong is then held."
    )
    finished_seconds_ago = serializers.IntegerField(
        default=0,
        min_value=0,
        max_value=int(LONGEST_WITHOUT_A_LINE.total_seconds()),
        help_text="How long before this request the work was finished, if it waited for a signal.",
    )


class AmendSerializer(RecordSerializer):
    """All that the closed order is to say: what is left out counts as not entered, but for the hours."""

    reason = serializers.CharField(allow_blank=True, max_length=500, help_text="What was wrong.")
    hours = HoursField(
        required=False, allow_null=True, default=None, help_text="What the meter showed; left out: unchanged."
    )


class PhotoInSerializer(serializers.Serializer):
    photo = serializers.FileField(help_text="JPEG, PNG or WebP of at most 10 MB.")
