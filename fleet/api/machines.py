"""Machines over the API: listed, entered, changed, retired."""

from dataclasses import fields
from typing import Any

import django_filters
from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.exceptions import ValidationError
from rest_framework.generics import ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.caller import member_of
from fleet.api.filters import Filters, IdFilter, OrderingFilter
from fleet.api.machine_types import MachineTypeSerializer
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.api.serializers import HoursField, IdField, KnownFieldsSerializer
from fleet.api.yards import YardSerializer
from fleet.machines import register, retirement
from fleet.machines.register import Facts
from fleet.models import Fitment, Machine, MachineType, Yard
from fleet.models.machine import Category, MachineQuerySet, WorkingCondition


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
            "pin",
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
            "note",
        ]
        read_only_fields = fields
        extra_kwargs = {"condition": {"label": "Working condition"}}

    @extend_schema_field(serializers.ChoiceField(Machine.State.choices))
    def get_state(self, machine: Machine) -> str:
        return machine.state.value

    def get_fitments(self, machine: Machine) -> list[str]:
        return [fitment.code for fitment in machine.fitments.all()]


class MachineInSerializer(KnownFieldsSerializer):
    """What is known of a machine. In a change, what is left out stays as it is."""

    type = IdField(help_text="Id of its make and model.")
    yard = IdField(help_text="Id of the yard it stands in.")
    tag = serializers.CharField(max_length=30, help_text="Fleet number, as painted on it.")
    in_service_on = serializers.DateField(help_text="When it began work here.")
    serial = serializers.CharField(required=False, allow_blank=True, max_length=60)
    pin = serializers.CharField(
        required=False,
        allow_blank=True,
        max_length=17,
        help_text="Product identification number (ISO 10261), 17 characters.",
    )
    price = serializers.DecimalField(
        12, 2, required=False, allow_null=True, help_text="What it cost, in the organisation's currency."
    )
    condition = serializers.ChoiceField(WorkingCondition.choices, required=False)
    for_hire = serializers.BooleanField(required=False)
    note = serializers.CharField(required=False, allow_blank=True, max_length=2000)
    fitments = serializers.ListField(
        child=serializers.CharField(), required=False, help_text="Codes of what it is fitted with."
    )


class NewMachineSerializer(MachineInSerializer):
    hours_at_start = HoursField(
        required=False, allow_null=True, help_text="What the meter showed on the day it began work here."
    )


class RetireSerializer(KnownFieldsSerializer):
    on = serializers.DateField(help_text="From this day on it is out of service.")


class MachineFilter(Filters):
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
    serializer_class: type[serializers.Serializer] = MachineSerializer

    def rows(self, own: MachineQuerySet) -> QuerySet:
        return own.with_state().select_related("type", "yard__organisation").prefetch_related("fitments")

    def shown(self, machine: Machine, code: int = status.HTTP_200_OK) -> Response:
        """Answer with the machine as it is now."""
        return Response(MachineSerializer(self.get_queryset().get(pk=machine.pk)).data, status=code)

    def referred(self, given: dict[str, Any]) -> dict[str, Any]:
        """The same with rows in the place of the ids and codes that name them. Raises ValidationError."""
        for name, model in (("type", MachineType), ("yard", Yard)):
            if name in given:
                given[name] = self.found(model, name, [given[name]])[0]
        if "fitments" in given:
            given["fitments"] = self._fitments(given["fitments"])
        return given

    def _fitments(self, codes: list[str]) -> list[Fitment]:
        own = {each.code: each for each in self.own(Fitment)}
        if unknown := [code for code in codes if code not in own]:
            said = _("Unknown: {codes}. There are: {known}.")
            known = ", ".join(sorted(own)) or "-"
            raise ValidationError({"fitments": said.format(codes=", ".join(unknown), known=known)})
        return [own[code] for code in dict.fromkeys(codes)]


class MachinesView(MachineRows, ListAPIView):
    filterset_class = MachineFilter
    rights = {"POST": "manage_fleet"}

    @extend_schema(
        operation_id="machines_list",
        responses={200: MachineSerializer(many=True), **problems(404)},
        examples=[OpenApiExample("1. Find a machine", "T-07", parameter_only=("tag", "query"))],
    )
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the organisation's machines, by tag."""
        return super().get(request, *args, **kwargs)

    @extend_schema(
        operation_id="machines_enter",
        request=NewMachineSerializer,
        responses={201: MachineSerializer, **problems(415, 422)},
    )
    def post(self, request: Request) -> Response:
        """Enter a machine with its first hour meter; known hours at the start are its first reading."""
        given = self.referred(self.given(NewMachineSerializer))
        machine = register.register(
            fitments=given.pop("fitments", ()),
            hours_at_start=given.pop("hours_at_start", None),
            facts=Facts(**given),
            member=member_of(request),
        )
        return self.shown(machine, status.HTTP_201_CREATED)


class MachineView(MachineRows, RetrieveAPIView):
    rights = {"PATCH": "manage_fleet"}

    @extend_schema(responses={200: MachineSerializer, **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Show one machine."""
        return super().get(request, *args, **kwargs)

    @extend_schema(
        operation_id="machines_change",
        request=MachineInSerializer(partial=True),
        responses={200: MachineSerializer, **problems(404, 415, 422)},
    )
    def patch(self, request: Request, pk: int) -> Response:
        """Change what is known of a machine; its tasks due follow. What is left out stays as it is."""
        found = self.get_object()
        given = self.referred(self.given(MachineInSerializer, partial=True))
        with transaction.atomic():
            own = self.own(Machine).select_related("type", "yard__organisation")
            machine = own.select_for_update(of=("self",)).get(pk=found.pk)
            fitments = given.pop("fitments", None)
            register.change(
                machine=machine,
                facts=Facts(
                    **{each.name: given.get(each.name, getattr(machine, each.name)) for each in fields(Facts)}
                ),
                fitments=list(machine.fitments.all()) if fitments is None else fitments,
                member=member_of(request),
            )
        return self.shown(machine)


class RetireView(MachineRows):
    rights = {"POST": "manage_fleet"}
    serializer_class = RetireSerializer

    @extend_schema(
        operation_id="machines_retire",
        request=RetireSerializer,
        responses={200: MachineSerializer, **problems(404, 415, 422)},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Take a machine out of service; 422 names all that is still open for it. Its history stays."""
        given = self.given()
        machine = retirement.retire(machine=self.get_object(), member=member_of(request), **given)
        return self.shown(machine)


class BringBackView(MachineRows):
    rights = {"POST": "manage_fleet"}

    @extend_schema(
        operation_id="machines_bring_back",
        request=None,
        responses={200: MachineSerializer, **problems(404, 415, 422)},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Put a retired machine back into service."""
        return self.shown(retirement.bring_back(machine=self.get_object(), member=member_of(request)))
