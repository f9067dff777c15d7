"""Tasks due, in code duties, over the API."""

from datetime import date
from typing import TYPE_CHECKING, Any, TypedDict, cast

import django_filters
from django.db.models import F, Prefetch, QuerySet
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.generics import ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.caller import organisation_of
from fleet.api.filters import DayFilter, IdFilter, OrderingFilter, YesNoFilter
from fleet.api.former_names import FormerFilters
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.models import Machine
from servicing.models import Duty, Line, Task, WorkOrder
from servicing.models.duty import DutyQuerySet
from servicing.models.program import INVENTED_FIGURES

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class Carried(TypedDict):
        """What is read beside a duty."""

        open_lines: list[Line]


class TaskDueMachineSerializer(serializers.ModelSerializer):
    class Meta:
        model = Machine
        fields = ["id", "tag", "hours"]
        read_only_fields = fields


class TaskDueTaskSerializer(serializers.ModelSerializer):
    invented = serializers.BooleanField(
        source="version.invented", help_text=f"Whether to say: {INVENTED_FIGURES}"
    )
    minutes = serializers.SerializerMethodField(help_text="Labour time in minutes; null: not entered.")

    class Meta:
        model = Task
        fields = ["id", "code", "title", "skill", "minutes", "invented"]
        read_only_fields = fields

    def get_minutes(self, task: Task) -> int | None:
        return task.minutes or None


class TaskDueOrderSerializer(serializers.ModelSerializer):
    class Meta:
        model = WorkOrder
        fields = ["id", "number", "state", "planned_for"]
        read_only_fields = fields


class TaskDueSerializer(serializers.ModelSerializer):
    """A task of a machine and when it is due next. early, likely, late: the 10, 50, 90 % quantiles of the day
    that is; null: not within three years, or (with projected_at null) not worked out yet."""

    machine = TaskDueMachineSerializer()
    task = TaskDueTaskSerializer()
    due_hours = serializers.DecimalField(
        9, 2, source="mark_hours", allow_null=True, help_text="Due at these total hours."
    )
    due_on = serializers.DateField(
        source="mark_on", allow_null=True, help_text="Due on this day at the latest."
    )
    overdue = serializers.SerializerMethodField(
        help_text="Whether the hours or the day (the yard's) have reached that."
    )
    order = serializers.SerializerMethodField(help_text="The open work order it is on.")

    class Meta:
        model = Duty
        fields = [
            "id",
            "machine",
            "task",
            "active",
            "overdue",
            "due_hours",
            "due_on",
            "early",
            "likely",
            "late",
            "projected_at",
            "last_hours",
            "last_on",
            "deferred_until",
            "deferred_reason",
            "order",
        ]
        read_only_fields = fields

    def get_overdue(self, duty: Duty) -> bool:
        return duty.is_overdue(duty.machine.today())

    @extend_schema_field(TaskDueOrderSerializer(allow_null=True))
    def get_order(self, duty: Duty) -> dict[str, Any] | None:
        lines = cast("WithAnnotations[Duty, Carried]", duty).open_lines
        return next((TaskDueOrderSerializer(line.order).data for line in lines), None)


class DutyFilter(FormerFilters):
    former = {"past": "overdue"}
    former_values = {"ordering": {"mark_hours": "due_hours"}}

    machine = IdFilter(field_name="machine_id")
    yard = IdFilter(field_name="machine__yard_id")
    type = IdFilter(field_name="machine__type_id", label="Machine type.")
    task = django_filters.CharFilter(field_name="task__code", label="Code of the task.")
    overdue = YesNoFilter(method="by_overdue", label="Overdue on the organisation's day.")
    likely_before = DayFilter(field_name="likely", lookup_expr="lt")
    unassigned = YesNoFilter(method="by_order", label="On no open work order.")
    ordering = OrderingFilter(
        fields=[("likely", "likely"), ("mark_hours", "due_hours"), ("machine__tag", "machine")]
    )

    def by_overdue(self, duties: DutyQuerySet, name: str, value: bool) -> QuerySet:
        today: date = organisation_of(self.request).today()
        return duties.overdue(today) if value else duties.ahead(today)

    def by_order(self, duties: DutyQuerySet, name: str, value: bool) -> QuerySet:
        return duties.unassigned() if value else duties.exclude(pk__in=duties.unassigned().values("pk"))


class DutyRows(ScopedView):
    model = Duty
    serializer_class = TaskDueSerializer

    def rows(self, own: DutyQuerySet) -> QuerySet:
        lines = self.own(Line).filter(open=True).select_related("order")
        return own.with_everything().prefetch_related(Prefetch("lines", lines, to_attr="open_lines"))


class DutiesView(DutyRows, ListAPIView):
    filterset_class = DutyFilter

    def rows(self, own: DutyQuerySet) -> QuerySet:
        return super().rows(own.live()).order_by(F("likely").asc(nulls_last=True), "mark_hours", "pk")

    @extend_schema(
        operation_id="tasks_due_list",
        responses={200: TaskDueSerializer(many=True), **problems(404)},
        examples=[OpenApiExample("3. See what is overdue", "true", parameter_only=("overdue", "query"))],
    )
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List what falls due on machines in service, by likely day."""
        return super().get(request, *args, **kwargs)


class DutyView(DutyRows, RetrieveAPIView):
    @extend_schema(responses={200: TaskDueSerializer, **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Show one task due, also one that is finished or no longer applies."""
        return super().get(request, *args, **kwargs)
