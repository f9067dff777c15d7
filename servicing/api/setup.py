"""A new organisation's first steps over the API: what is there, and what is missing."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.caller import member_of, organisation_of
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.models import SetupStep
from servicing.first_day.checklist import checklist
from servicing.first_day.step import State


class LackSerializer(serializers.Serializer):
    """One thing a step lacks."""

    name = serializers.CharField(help_text="A model, or a machine's fleet number.")
    note = serializers.CharField(help_text="A word on it; may be empty.")


class StepSerializer(serializers.Serializer):
    """One step, as it stands."""

    step = serializers.ChoiceField(SetupStep.Code.values, source="code")
    state = serializers.ChoiceField([(state.value, state.name) for state in State])
    detail = serializers.CharField(source="said", help_text="What is there, or what is missing.")
    why = serializers.CharField()
    missing = LackSerializer(many=True, source="lacks", help_text="Each thing missing that has a name.")


class SetupSerializer(serializers.Serializer):
    """The list of first steps."""

    set_up_at = serializers.DateTimeField(allow_null=True, help_text="When the list was closed.")
    steps = StepSerializer(many=True, help_text="Those that are yours to do; none once the list is closed.")


class SetupView(ScopedView):
    reading_right = "manage_fleet"
    serializer_class = SetupSerializer

    @extend_schema(operation_id="setup_read", responses={200: SetupSerializer, **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Say what a new organisation still needs: the list that Today shows until it is closed."""
        found = checklist(member_of(request))
        shown = {
            "set_up_at": organisation_of(request).set_up_at,
            "steps": found.steps if found else (),
        }
        return Response(SetupSerializer(shown).data)
