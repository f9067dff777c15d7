"""Parts and other supplies over the API."""

from typing import Any

import django_filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.filters import Filters
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from servicing.models import Part, Stock
from servicing.models.part import PartQuerySet


class StockSerializer(serializers.ModelSerializer):
    """What lies in one yard, in the part's unit; below 0: more was used than counted."""

    class Meta:
        model = Stock
        fields = ["yard", "quantity", "reorder_point"]
        read_only_fields = fields


class PartSerializer(serializers.ModelSerializer):
    """A part, oil or other supply by its number."""

    in_stock = serializers.DecimalField(10, 2, help_text="In all yards together, in its unit.")
    stocks = StockSerializer(many=True)

    class Meta:
        model = Part
        fields = ["id", "number", "name", "grade", "unit", "in_stock", "stocks", "equivalents"]
        read_only_fields = fields
        extra_kwargs = {"equivalents": {"help_text": "Ids of parts that can be used in its place."}}


class PartFilter(Filters):
    number = django_filters.CharFilter(lookup_expr="iexact")


class PartRows(ScopedView):
    model = Part
    serializer_class = PartSerializer

    def rows(self, own: PartQuerySet) -> Any:
        return own.with_stocks().prefetch_related("equivalents")


class PartsView(PartRows, ListAPIView):
    filterset_class = PartFilter

    @extend_schema(operation_id="parts_list", responses={200: PartSerializer(many=True), **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the parts, by name, with what lies in each yard."""
        return super().get(request, *args, **kwargs)


class PartView(PartRows, RetrieveAPIView):
    @extend_schema(responses={200: PartSerializer, **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Show one part."""
        return super().get(request, *args, **kwargs)
