"""Technicians over the API."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.filters import Filters, YesNoFilter
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from servicing.models import Technician
from servicing.models.technician import TechnicianQuerySet


class TechnicianSerializer(serializers.ModelSerializer):
    """Somebody who does service work."""

    name = serializers.CharField(source="member")
    working = serializers.SerializerMethodField(help_text="Whether orders can be given to them.")

    class Meta:
        model = Technician
        fields = ["id", "name", "member", "working", "licensed"]
        read_only_fields = fields

    def get_working(self, technician: Technician) -> bool:
        return technician.member.active and technician.member.user.is_active


class TechnicianFilter(Filters):
    working = YesNoFilter(method="by_working", label="Whether orders can be given to them.")

    def by_working(self, technicians: TechnicianQuerySet, name: str, value: bool) -> Any:
        working = technicians.working()
        return working if value else technicians.exclude(pk__in=working.values("pk"))


class TechniciansView(ScopedView, ListAPIView):
    model = Technician
    serializer_class = TechnicianSerializer
    filterset_class = TechnicianFilter

    def rows(self, own: TechnicianQuerySet) -> Any:
        return own.select_related("member__user")

    @extend_schema(
        operation_id="technicians_list",
        responses={200: TechnicianSerializer(many=True), **problems(404)},
    )
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the technicians, by name."""
        return super().get(request, *args, **kwargs)
