"""Telematics units over the API: what was told of each, both sides of a question, and the answers to it."""

from typing import Any

import django_filters
from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.generics import ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.caller import member_of
from fleet.api.filters import Filters, IdFilter
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.api.serializers import IdField, KnownFieldsSerializer
from fleet.models import Machine, TelematicsUnit
from fleet.models.telematics import TelematicsUnitQuerySet
from fleet.telematics import linking
from fleet.telematics.questions import sides

STATES = ("waiting", "asking", "tied", "silent", "ignored")


class SideSerializer(serializers.Serializer):
    """One fact of both sides of a question."""

    fact = serializers.ChoiceField(["pin", "serial", "equipment_id", "maker", "model"])
    sent = serializers.CharField(allow_blank=True)
    sent_before = serializers.CharField(
        source="before",
        allow_blank=True,
        help_text="What was sent when it was linked, where that was another.",
    )
    recorded = serializers.CharField(
        allow_blank=True,
        help_text="What the record of the proposed machine has: for an equipment id, its tag.",
    )
    verdict = serializers.ChoiceField(
        ["agrees", "differs"], allow_blank=True, help_text='"": it tells neither way.'
    )


class UnitSerializer(serializers.ModelSerializer):
    """A unit a source speaks of, with what was last told; its hours count for `machine` alone."""

    source_name = serializers.CharField(source="source.name")
    question = serializers.CharField(
        source="hint", help_text="What is asked before its hours count; empty where nothing is."
    )
    matched_by = serializers.ChoiceField(
        TelematicsUnit.MatchedBy.choices, allow_blank=True, help_text='By what it is linked; "": it is not.'
    )
    sides = serializers.SerializerMethodField(help_text="What was sent, beside the record of `proposed`.")

    class Meta:
        model = TelematicsUnit
        fields = [
            "id",
            "source",
            "source_name",
            "machine",
            "proposed",
            "matched_by",
            "ignored",
            "question",
            "sides",
            "hours",
            "hours_at",
            "other_hours",
            "receipt",
            "receipt_reason",
            "seen_at",
            "reported_at",
        ]
        read_only_fields = fields
        extra_kwargs = {
            "machine": {"help_text": "The machine it is linked to."},
            "proposed": {"help_text": "The machine it may be."},
            "other_hours": {"help_text": "Further figures that were sent for the same moment."},
        }

    @extend_schema_field(SideSerializer(many=True))
    def get_sides(self, unit: TelematicsUnit) -> list[dict[str, Any]]:
        return SideSerializer(sides(unit), many=True).data  # type: ignore[return-value]  # many: a list


class TieSerializer(KnownFieldsSerializer):
    machine = IdField(help_text="The machine it is.")


class UnitFilter(Filters):
    source = IdFilter(field_name="source_id")
    machine = IdFilter(field_name="machine_id")
    state = django_filters.ChoiceFilter(
        choices=[(state, state) for state in STATES],
        method="in_state",
        label="waiting: for a machine; asking: with a question; tied: its hours count; silent: tied, but "
        "gone from the snapshot or without a report; ignored",
    )

    def in_state(self, units: TelematicsUnitQuerySet, name: str, value: str) -> QuerySet:
        if value == "silent":
            return units.silent(timezone.now())
        chosen: QuerySet = getattr(units, value)()
        return chosen


class UnitRows(ScopedView):
    model = TelematicsUnit
    serializer_class: type[serializers.BaseSerializer] = UnitSerializer
    reading_right = "manage_fleet"
    rights = {"POST": "manage_fleet"}

    def rows(self, own: TelematicsUnitQuerySet) -> QuerySet:
        return own.select_related("source", "proposed__type").order_by("pk")

    def decided(self, unit: TelematicsUnit) -> Response:
        """Show the unit as it is after a decision."""
        return Response(UnitSerializer(self.rows(self.own(TelematicsUnit)).get(pk=unit.pk)).data)


class UnitsView(UnitRows, ListAPIView):
    filterset_class = UnitFilter

    @extend_schema(
        operation_id="telematics_units_list",
        responses={200: UnitSerializer(many=True), **problems(404)},
    )
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the units that telematics sources speak of, with the question of each that asks."""
        return super().get(request, *args, **kwargs)


class UnitView(UnitRows, RetrieveAPIView):
    @extend_schema(operation_id="telematics_unit", responses={200: UnitSerializer, **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Show one unit."""
        return super().get(request, *args, **kwargs)


class TieView(UnitRows):
    serializer_class = TieSerializer

    @extend_schema(
        operation_id="telematics_unit_tie",
        request=TieSerializer,
        responses={200: UnitSerializer, **problems(404, 415)},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Say which machine a unit is; the hours it last told come in at once. It asks again only when its
        numbers change.
        """
        unit = self.get_object()
        (machine,) = self.found(Machine, "machine", [self.given()["machine"]])
        return self.decided(linking.tie(unit=unit, machine=machine, member=member_of(request)))


class IgnoreView(UnitRows):
    serializer_class = serializers.Serializer

    @extend_schema(
        operation_id="telematics_unit_ignore",
        request=None,
        responses={200: UnitSerializer, **problems(404)},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Set a unit aside: its hours aren't counted, until it comes with other numbers."""
        return self.decided(linking.ignore(unit=self.get_object(), member=member_of(request)))


class LoosenView(UnitRows):
    serializer_class = serializers.Serializer

    @extend_schema(
        operation_id="telematics_unit_unlink",
        request=None,
        responses={200: UnitSerializer, **problems(404)},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Let a unit wait again; the next snapshot links it if all its numbers fit."""
        return self.decided(linking.loosen(unit=self.get_object(), member=member_of(request)))
