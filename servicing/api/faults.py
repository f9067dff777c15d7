"""Faults over the API: listed, reported, judged again."""

from typing import Any

import django_filters
from django.db.models import QuerySet
from django.urls import reverse
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.generics import ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.caller import ANY_MEMBER, member_of
from fleet.api.filters import Filters, IdFilter, YesNoFilter
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.api.serializers import IdField, KnownFieldsSerializer
from fleet.models import Machine
from servicing.gate.faults import judge_again, report_fault
from servicing.models import Fault
from servicing.models.fault import FaultQuerySet


class FaultSerializer(serializers.ModelSerializer):
    """A fault of a machine; one that stops keeps the machine from going out."""

    machine_tag = serializers.CharField(source="machine.tag")
    photo = serializers.SerializerMethodField(help_text='For members who are signed in; "": none.')
    reported_by = serializers.SerializerMethodField(help_text='"": not known.')
    order = serializers.SerializerMethodField(help_text="Id of the order it is on.")

    class Meta:
        model = Fault
        fields = [
            "id",
            "machine",
            "machine_tag",
            "severity",
            "text",
            "photo",
            "found_at",
            "reported_by",
            "reported_at",
            "order",
            "fixed_at",
        ]
        read_only_fields = fields

    def get_photo(self, fault: Fault) -> str:
        return reverse("media", args=[fault.photo.name]) if fault.photo else ""

    def get_reported_by(self, fault: Fault) -> str:
        return str(fault.reported_by or "")

    def get_order(self, fault: Fault) -> int | None:
        return fault.line.order_id if fault.line else None


class FaultInSerializer(KnownFieldsSerializer):
    machine = IdField()
    text = serializers.CharField(max_length=2000, help_text="What is wrong, so that others can find it.")
    severity = serializers.ChoiceField(Fault.Severity.choices)


class JudgeSerializer(KnownFieldsSerializer):
    severity = serializers.ChoiceField(Fault.Severity.choices)
    reason = serializers.CharField(max_length=500, help_text="Why; kept with the fault.")


class FaultFilter(Filters):
    machine = IdFilter(field_name="machine_id")
    severity = django_filters.ChoiceFilter(choices=Fault.Severity.choices)
    open = YesNoFilter(field_name="fixed_at", lookup_expr="isnull", label="Not yet put right.")


class FaultRows(ScopedView):
    model = Fault
    serializer_class: type[serializers.Serializer] = FaultSerializer

    def rows(self, own: FaultQuerySet) -> QuerySet:
        return own.select_related("machine", "reported_by__user", "line").order_by("-reported_at", "-pk")


class FaultsView(FaultRows, ListAPIView):
    filterset_class = FaultFilter
    rights = {"POST": ANY_MEMBER}

    @extend_schema(operation_id="faults_list", responses={200: FaultSerializer(many=True), **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the faults, the latest first."""
        return super().get(request, *args, **kwargs)

    @extend_schema(
        operation_id="faults_report",
        request=FaultInSerializer,
        responses={201: FaultSerializer, **problems(415, 422)},
    )
    def post(self, request: Request) -> Response:
        """Report a fault of a machine; it is put right by an order that names it."""
        given = self.given(FaultInSerializer)
        machine = self.found(Machine, "machine", [given.pop("machine")])[0]
        fault = report_fault(machine=machine, member=member_of(request), **given)
        return Response(FaultSerializer(fault).data, status=status.HTTP_201_CREATED)


class FaultView(FaultRows, RetrieveAPIView):
    @extend_schema(responses={200: FaultSerializer, **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Show one fault."""
        return super().get(request, *args, **kwargs)


class JudgeView(FaultRows):
    rights = {"POST": "plan_orders"}
    serializer_class = JudgeSerializer

    @extend_schema(
        operation_id="faults_judge",
        request=JudgeSerializer,
        responses={200: FaultSerializer, **problems(404, 409, 415)},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Say anew how bad an open fault is, and why; the reason is added to its text."""
        fault = judge_again(fault=self.get_object(), member=member_of(request), **self.given())
        return Response(FaultSerializer(self.get_queryset().get(pk=fault.pk)).data)
