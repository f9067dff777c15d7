"""Machines over the API."""

from typing import Any

import django_filters
from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.generics import ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.filters import IdFilter, OrderingFilter
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.models import Machine, MachineType, Yard
from fleet.models.machine import Category, MachineQuerySet


class MachineTypeSerializer(serializers.ModelSerializer):
    class Meta:
        model = MachineType
        fields = ["id", "maker", "model", "category"]
        read_only_fields = fields


class YardSerializer(serializers.ModelSerializer):
    zone = serializers.SerializerMethodField()

    class Meta:
        model = Yard
        fields = ["id", "name", "zone"]
        read_only_fields = fields

    def get_zone(self, yard: Yard) -> str:
        return yard.zoneinfo.key


class MachineSerializer(serializers.ModelSerializer):
    """A machine; hours are total hours of running over all its meters."""

    type = MachineTypeSerializer()
    yard = YardSerializer()
    state = serializers.SerializerMethodField()
    fitments = serializers.SerializerMethodField()

    class Meta:
        model = Machine
        fields = [
            "id",
            "tag",
            "serial",
            "type",
            "yard",
            "state",
            "hours",
            "hours_at",
            "condition",
            "fitments",
            "for_hire",
            "in_service_on",
            "retired_on",
            "in_shop_since",
        ]
        read_only_fields = fields
        extra_kwargs = {"condition": {"label": "Working condition"}}

    @extend_schema_field(serializers.ChoiceField(Machine.State.choices))
    def get_state(self, machine: Machine) -> str:
        return machine.state.value

    def get_fitments(self, machine: Machine) -> list[str]:
        return [fitment.code for fitment in machine.fitments.all()]


class MachineFilter(django_filters.FilterSet):
    tag = django_filters.CharFilter(lookup_expr="iexact")
    yard = IdFilter(field_name="yard_id")
    type = IdFilter(field_name="type_id")
    category = django_filters.ChoiceFilter(field_name="type__category", choices=Category.choices)
    state = django_filters.ChoiceFilter(choices=Machine.State.choices, method="in_state")
    ordering = OrderingFilter(fields=["tag", "hours", "hours_at", "in_service_on"])

    def in_state(self, machines: MachineQuerySet, name: str, value: str) -> QuerySet:
        return machines.in_state(value)


class MachineRows(ScopedView):
    model = Machine
    serializer_class = MachineSerializer

    def rows(self, own: MachineQuerySet) -> QuerySet:
        return own.with_state().select_related("type", "yard__organisation").prefetch_related("fitments")


class MachinesView(MachineRows, ListAPIView):
    filterset_class = MachineFilter

    @extend_schema(
        operation_id="machines_list", responses={200: MachineSerializer(many=True), **problems(400, 404)}
    )
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the organisation's machines, by tag."""
        return super().get(request, *args, **kwargs)


class MachineView(MachineRows, RetrieveAPIView):
    @extend_schema(responses={200: MachineSerializer, **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Show one machine."""
        return super().get(request, *args, **kwargs)
