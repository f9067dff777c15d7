"""Yards over the API."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.models import Yard


class YardSerializer(serializers.ModelSerializer):
    zone = serializers.SerializerMethodField(help_text="Time zone, as Europe/Vienna: a day is the yard's.")

    class Meta:
        model = Yard
        fields = ["id", "name", "zone"]
        read_only_fields = fields

    def get_zone(self, yard: Yard) -> str:
        return yard.zoneinfo.key


class YardsView(ScopedView, ListAPIView):
    model = Yard
    serializer_class = YardSerializer

    def rows(self, own: Any) -> Any:
        return own.select_related("organisation").order_by("name", "pk")

    @extend_schema(operation_id="yards_list", responses={200: YardSerializer(many=True), **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the yards, by name."""
        return super().get(request, *args, **kwargs)
