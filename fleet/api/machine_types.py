"""Makes and models over the API."""

from typing import Any

import django_filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.caller import member_of
from fleet.api.filters import Filters
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.api.serializers import KnownFieldsSerializer
from fleet.machines import register
from fleet.models import MachineType
from fleet.models.machine import Category


class MachineTypeSerializer(serializers.ModelSerializer):
    class Meta:
        model = MachineType
        fields = ["id", "maker", "model", "category"]
        read_only_fields = fields


class MachineTypeInSerializer(KnownFieldsSerializer):
    maker = serializers.CharField(max_length=80, help_text="As on the machine's plate.")
    model = serializers.CharField(max_length=80, help_text="As on the machine's plate.")
    category = serializers.ChoiceField(Category.choices)


class MachineTypeFilter(Filters):
    maker = django_filters.CharFilter(lookup_expr="iexact")
    category = django_filters.ChoiceFilter(choices=Category.choices)


class MachineTypesView(ScopedView, ListAPIView):
    model = MachineType
    serializer_class = MachineTypeSerializer
    filterset_class = MachineTypeFilter
    rights = {"POST": "manage_fleet"}

    @extend_schema(
        operation_id="machine_types_list",
        responses={200: MachineTypeSerializer(many=True), **problems(404)},
    )
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the makes and models, by maker."""
        return super().get(request, *args, **kwargs)

    @extend_schema(
        operation_id="machine_types_enter",
        request=MachineTypeInSerializer,
        responses={201: MachineTypeSerializer, **problems(415, 422)},
    )
    def post(self, request: Request) -> Response:
        """Enter a make and model; one that is in the list already is refused."""
        made = register.register_type(member=member_of(request), **self.given(MachineTypeInSerializer))
        return Response(MachineTypeSerializer(made).data, status=status.HTTP_201_CREATED)
