"""A machine's hour meters over the API."""

from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.caller import member_of
from fleet.api.former_names import FormerFields
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.api.serializers import HoursField, KnownFieldsSerializer, MomentField
from fleet.models import Machine, MeterSegment
from fleet.readings import meter_changes


class MeterSerializer(serializers.ModelSerializer):
    """One hour meter's life on the machine; total hours are what it shows plus `offset`."""

    meter_at_start = serializers.DecimalField(
        9, 2, source="shows_at_start", help_text="What the meter showed when it began."
    )

    class Meta:
        model = MeterSegment
        fields = ["id", "machine", "began", "started_at", "ended_at", "meter_at_start", "offset", "note"]
        read_only_fields = fields


class MeterChangeSerializer(FormerFields, KnownFieldsSerializer):
    """A new meter (`old_meter` and `new_meter`), or the same one rolled over (`wraps_at`)."""

    former = {"old_shows": "old_meter", "new_shows": "new_meter"}

    at = MomentField()
    old_meter = HoursField(
        source="old_shows", required=False, help_text="What the old meter showed at its end."
    )
    new_meter = HoursField(
        source="new_shows", required=False, help_text="What the new meter showed at its start."
    )
    wraps_at = HoursField(required=False, help_text="The hours after which the meter shows zero again.")
    note = serializers.CharField(required=False, allow_blank=True, default="")

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        figures = given.keys() & {"old_shows", "new_shows", "wraps_at"}
        if figures not in ({"old_shows", "new_shows"}, {"wraps_at"}):
            raise serializers.ValidationError(
                _("Give old_meter and new_meter for a new meter, or wraps_at for one that rolled over.")
            )
        return given


class MetersView(ScopedView, ListAPIView):
    """The meters a machine has had; a new one is recorded here too."""

    model = MeterSegment
    serializer_class = MeterSerializer
    pagination_class = None
    filter_backends = []
    rights = {"POST": "manage_fleet"}

    def rows(self, own: QuerySet) -> QuerySet:
        return own.filter(machine=self.one(Machine, self.kwargs["pk"])).order_by("started_at", "pk")

    @extend_schema(
        operation_id="machine_meters", responses={200: MeterSerializer(many=True), **problems(404)}
    )
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the meters a machine has had, the first one first."""
        return super().get(request, *args, **kwargs)

    @extend_schema(
        operation_id="machine_meter_change",
        request=MeterChangeSerializer,
        responses={201: MeterSerializer, **problems(404, 422)},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Record that the machine got a new meter, or that its meter rolled over; total hours go on."""
        machine = self.one(Machine, pk)
        given = self.given(MeterChangeSerializer)
        process = meter_changes.roll_over if "wraps_at" in given else meter_changes.replace
        segment = process(machine=machine, member=member_of(request), **given)
        return Response(MeterSerializer(segment).data, status=status.HTTP_201_CREATED)
