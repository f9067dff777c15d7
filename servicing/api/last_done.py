"""When work was last done on machines that ran before, over the API: asked, and said."""

from typing import Any

from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.caller import member_of
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.api.serializers import KnownFieldsSerializer
from fleet.models import Machine
from servicing.last_done import say
from servicing.last_done.asked import Cell, State, sheets
from servicing.last_done.typed import Said


class LastDoneSerializer(serializers.Serializer):
    """When a task was last done on a machine. asked: nobody has said, and we count as if it had been done;
    stated: a person said so; unknown: nobody knows, and it falls due for an inspection; recorded: an order
    says so; new: it wasn't due before the machine came."""

    task = serializers.CharField(source="task.code", help_text="Code of the task.")
    title = serializers.CharField(source="task.title")
    state = serializers.ChoiceField([(state.value, state.value) for state in State], source="state.value")
    hours = serializers.SerializerMethodField(help_text="Total hours at which it was last done.")
    on = serializers.SerializerMethodField(help_text="The day on which it was last done.")
    estimated = serializers.SerializerMethodField(
        help_text="Which of the two nobody said and is an estimate: hours or on; null: neither."
    )

    def get_hours(self, cell: Cell) -> str | None:
        return None if cell.duty is None or cell.duty.last_hours is None else str(cell.duty.last_hours)

    def get_on(self, cell: Cell) -> str | None:
        return cell.duty.last_on.isoformat() if cell.duty and cell.duty.last_on else None

    def get_estimated(self, cell: Cell) -> str | None:
        return cell.estimated or None


class SayLastDoneSerializer(KnownFieldsSerializer):
    task = serializers.CharField(max_length=50, help_text="Code of the task.")
    hours = serializers.DecimalField(
        9, 2, min_value=0, required=False, allow_null=True, help_text="Total hours at which it was last done."
    )
    on = serializers.DateField(required=False, allow_null=True, help_text="The day on which it was.")
    unknown = serializers.BooleanField(default=False, help_text="Nobody knows.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse what says nothing, or both that it is known and that it isn't."""
        is_known = attrs.get("hours") is not None or attrs.get("on") is not None
        if attrs["unknown"] == is_known:
            raise serializers.ValidationError({"unknown": _("Give hours, a day or both; or say unknown.")})
        return attrs


class LastDoneView(ScopedView):
    model = Machine
    serializer_class = LastDoneSerializer
    rights = {"POST": "manage_fleet"}
    pagination_class = None

    @extend_schema(
        operation_id="last_done_list", responses={200: LastDoneSerializer(many=True), **problems(404)}
    )
    def get(self, request: Request, pk: int) -> Response:
        """List the tasks of a machine with what is known of when each was last done."""
        return Response(LastDoneSerializer(_cells(self.get_object()), many=True).data)

    @extend_schema(
        operation_id="last_done_say",
        request=SayLastDoneSerializer,
        responses={200: LastDoneSerializer, **problems(404, 409, 415, 422)},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Say when a task was last done: its hours, its day, both, or that nobody knows."""
        machine = self.get_object()
        given = self.given(SayLastDoneSerializer)
        cell = _called(machine, given["task"])
        if cell is None:
            raise ValidationError({"task": _("{machine} has no task of that code.").format(machine=machine)})
        said = Said(given.get("hours"), given.get("on"), given["unknown"])
        say.say(statements=[say.Statement(cell, said)], member=member_of(request))
        return Response(LastDoneSerializer(_called(machine, given["task"])).data)


def _cells(machine: Machine) -> list[Cell]:
    return [cell for sheet in sheets([machine.pk]) for cell in sheet.cells.values()]


def _called(machine: Machine, code: str) -> Cell | None:
    return next((cell for cell in _cells(machine) if cell.task.code == code), None)
