"""Bookings over the API: which machines are spoken for, and how hard they will run."""

from typing import Any

import django_filters
from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.filters import DayFilter, Filters, IdFilter, OrderingFilter
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.models import Booking
from fleet.models.calendar import BookingQuerySet


class BookingSerializer(serializers.ModelSerializer):
    """A machine spoken for; both days are included."""

    class Meta:
        model = Booking
        fields = ["id", "machine", "kind", "what", "first_on", "last_on", "hours_a_day", "made_at"]
        read_only_fields = fields


class BookingFilter(Filters):
    machine = IdFilter(field_name="machine_id")
    kind = django_filters.ChoiceFilter(choices=Booking.Kind.choices)
    since = DayFilter(field_name="last_on", lookup_expr="gte", label="with days from then on")
    until = DayFilter(field_name="first_on", lookup_expr="lte", label="with days until then")
    ordering = OrderingFilter(fields=["first_on", "last_on", "machine"])


class BookingsView(ScopedView, ListAPIView):
    model = Booking
    serializer_class = BookingSerializer
    filterset_class = BookingFilter

    def rows(self, own: BookingQuerySet) -> QuerySet:
        return own.standing()

    @extend_schema(
        operation_id="bookings_list", responses={200: BookingSerializer(many=True), **problems(404)}
    )
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the bookings that stand, by their first day."""
        return super().get(request, *args, **kwargs)
