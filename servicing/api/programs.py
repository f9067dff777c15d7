"""Service programs over the API."""

from typing import TYPE_CHECKING, Any, TypedDict, cast

from django.db.models import Prefetch, QuerySet
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.generics import ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.machine_types import MachineTypeSerializer
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.core.hazards import Action
from fleet.models import Fitment
from servicing.models import (
    Caution,
    Check,
    Interval,
    ProgramVersion,
    ServiceProgram,
    SupplyNeed,
    Task,
    ToolNeed,
)
from servicing.models.program import INVENTED_FIGURES, ProgramVersionQuerySet

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class Holding(TypedDict):
        """What is read beside a program: the version that holds now, if any."""

        current: list[ProgramVersion]


def fields_of(model: Any, *left_out: str) -> list[str]:
    """The names of a model's own fields but for its keys and those left out."""
    hidden = {"id", "organisation", "task", *left_out}
    return [field.name for field in model._meta.fields if field.name not in hidden]


class IntervalSerializer(serializers.ModelSerializer):
    class Meta:
        model = Interval
        fields = fields_of(Interval)
        read_only_fields = fields


class CautionSerializer(serializers.ModelSerializer):
    actions = serializers.ListField(child=serializers.ChoiceField(Action.choices))

    class Meta:
        model = Caution
        fields = fields_of(Caution)
        read_only_fields = fields


class ToolSerializer(serializers.ModelSerializer):
    class Meta:
        model = ToolNeed
        fields = fields_of(ToolNeed)
        read_only_fields = fields


class SupplySerializer(serializers.ModelSerializer):
    number = serializers.CharField(source="part.number")
    name = serializers.CharField(source="part.name")
    grade = serializers.CharField(source="part.grade")
    unit = serializers.CharField(source="part.unit")

    class Meta:
        model = SupplyNeed
        fields = ["number", "name", "grade", "quantity", "unit"]
        read_only_fields = fields


class ChoiceSerializer(serializers.Serializer):
    value = serializers.CharField()
    meaning = serializers.CharField(allow_blank=True)
    passes = serializers.BooleanField()


class CheckSerializer(serializers.ModelSerializer):
    choices = ChoiceSerializer(many=True)
    steps = serializers.ListField(child=serializers.CharField())

    class Meta:
        model = Check
        fields = ["id", *fields_of(Check, "position")]
        read_only_fields = fields


class TaskSerializer(serializers.ModelSerializer):
    """A task with all that a technician needs to know; the maker's manual comes before it."""

    intervals = IntervalSerializer(many=True)
    cautions = CautionSerializer(many=True)
    tools = ToolSerializer(many=True)
    supplies = SupplySerializer(many=True)
    checks = CheckSerializer(many=True)
    needs: "serializers.SlugRelatedField[Fitment]" = serializers.SlugRelatedField(
        "code", many=True, read_only=True
    )
    without: "serializers.SlugRelatedField[Fitment]" = serializers.SlugRelatedField(
        "code", many=True, read_only=True
    )
    place = serializers.CharField(help_text="Where on the machine; may be empty.")
    opens = serializers.ListField(child=serializers.CharField())
    prepare = serializers.ListField(child=serializers.CharField())
    steps = serializers.ListField(child=serializers.CharField())

    class Meta:
        model = Task
        fields = [
            "id",
            *fields_of(Task, "version", "position"),
            *("needs", "without", "intervals", "cautions", "tools", "supplies", "checks"),
        ]
        read_only_fields = fields
        extra_kwargs = {"outside": {"label": "Outside the limits"}}


class ProgramSerializer(serializers.ModelSerializer):
    machine_type = MachineTypeSerializer()
    round = serializers.ListField(child=serializers.CharField())
    version = serializers.SerializerMethodField(help_text="Number of the version in use.")

    invented = serializers.SerializerMethodField(help_text=f"Whether to say: {INVENTED_FIGURES}")

    class Meta:
        model = ServiceProgram
        fields = ["id", "code", "title", "source", "invented", "machine_type", "round", "version"]
        read_only_fields = fields

    def get_version(self, program: ServiceProgram) -> int | None:
        return next((version.number for version in _current(program)), None)

    def get_invented(self, program: ServiceProgram) -> bool:
        return any(version.invented for version in _current(program))


class WholeProgramSerializer(ProgramSerializer):
    tasks = serializers.SerializerMethodField()

    class Meta(ProgramSerializer.Meta):
        fields = [*ProgramSerializer.Meta.fields, "tasks"]
        read_only_fields = fields

    @extend_schema_field(TaskSerializer(many=True))
    def get_tasks(self, program: ServiceProgram) -> list[dict[str, Any]]:
        return [TaskSerializer(task).data for version in _current(program) for task in version.tasks.all()]


def _current(program: ServiceProgram) -> "list[ProgramVersion]":
    return cast("WithAnnotations[ServiceProgram, Holding]", program).current


class ProgramRows(ScopedView):
    model = ServiceProgram

    def versions(self) -> ProgramVersionQuerySet:
        """The versions that hold now."""
        own: ProgramVersionQuerySet = self.own(ProgramVersion)
        return own.current()

    def rows(self, own: QuerySet) -> QuerySet:
        current = Prefetch("versions", self.versions(), to_attr="current")
        return own.select_related("machine_type").prefetch_related(current)


class ProgramsView(ProgramRows, ListAPIView):
    serializer_class = ProgramSerializer

    @extend_schema(
        operation_id="programs_list", responses={200: ProgramSerializer(many=True), **problems(404)}
    )
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the service programmes, one for each model."""
        return super().get(request, *args, **kwargs)


class ProgramView(ProgramRows, RetrieveAPIView):
    serializer_class = WholeProgramSerializer

    def versions(self) -> ProgramVersionQuerySet:
        parts = ["intervals", "cautions", "tools", "supplies__part", "checks", "needs", "without"]
        return super().versions().prefetch_related(*(f"tasks__{part}" for part in parts))

    @extend_schema(responses={200: WholeProgramSerializer, **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Show one programme with the tasks of the version in use."""
        return super().get(request, *args, **kwargs)
