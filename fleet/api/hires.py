"""Hires over the API: who has a unit, since when, and what was noted when it went out and came back."""

from typing import Any

import django_filters
from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.filters import IdFilter, OrderingFilter
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.models import Hire
from fleet.models.hire import HireQuerySet


class HireNoteSerializer(serializers.Serializer):
    """A note of a hire, with who wrote it and when."""

    way = serializers.CharField(
        allow_blank=True, help_text='"out", "back", or "": an old note; whether out or back is not known.'
    )
    by = serializers.CharField(allow_blank=True, help_text='"": not known.')
    at = serializers.DateTimeField(allow_null=True, help_text="null: not known.")
    text = serializers.CharField()


class HireSerializer(serializers.ModelSerializer):
    """A machine's time with a hirer; hours are total hours, fuel is per cent of a full tank."""

    out_by = serializers.SerializerMethodField()
    back_by = serializers.SerializerMethodField()
    notes = serializers.SerializerMethodField()

    class Meta:
        model = Hire
        fields = [
            "id",
            "machine",
            "hirer",
            "booking",
            "due_back_on",
            "out_at",
            "out_by",
            "hours_out",
            "fuel_out",
            "back_at",
            "back_by",
            "hours_back",
            "fuel_back",
            "notes",
        ]
        read_only_fields = fields

    def get_out_by(self, hire: Hire) -> str:
        return str(hire.out_by or "")

    def get_back_by(self, hire: Hire) -> str:
        return str(hire.back_by or "")

    @extend_schema_field(HireNoteSerializer(many=True))
    def get_notes(self, hire: Hire) -> list[dict[str, Any]]:
        return HireNoteSerializer(hire.notes, many=True).data  # type: ignore[return-value]  # many: a list


class HireFilter(django_filters.FilterSet):
    machine = IdFilter(field_name="machine_id")
    out = django_filters.BooleanFilter(field_name="back_at", lookup_expr="isnull", label="whether it is out")
    ordering = OrderingFilter(fields=["out_at", "back_at", "due_back_on"])


class HiresView(ScopedView, ListAPIView):
    model = Hire
    serializer_class = HireSerializer
    filterset_class = HireFilter

    def rows(self, own: HireQuerySet) -> QuerySet:
        return own.with_people()

    @extend_schema(
        operation_id="hires_list", responses={200: HireSerializer(many=True), **problems(400, 404)}
    )
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the hires, the latest first."""
        return super().get(request, *args, **kwargs)
