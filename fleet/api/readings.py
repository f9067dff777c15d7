"""Readings over the API: sent in and looked up."""

from typing import Any, cast

import django_filters
from django.http import HttpResponse
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.generics import ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet import readings
from fleet.api.bodies import CsvRows, JsonRows, LinedRows, received
from fleet.api.caller import ANY_MEMBER, caller, organisation_of
from fleet.api.filters import IdFilter, MomentFilter
from fleet.api.former_names import FormerFilters
from fleet.api.intake import (
    IDEMPOTENCY_KEY,
    KEPT_CODES,
    ReadingsInSerializer,
    ReceiptsSerializer,
    key_of,
    written,
)
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.models import Reading
from fleet.readings import idempotency

LINED = "A reading as JSON on each line."
TABLED = (
    "A first line that names the columns machine, taken_at, meter and optionally client_id and note; then a "
    "reading on each line (RFC 4180). A machine is named by its fleet number or serial number."
)
BODIES = {
    "application/json": ReadingsInSerializer,
    "application/x-ndjson": {"type": "string", "description": LINED},
    "text/csv": {"type": "string", "description": TABLED},
}


class ReadingSerializer(serializers.ModelSerializer):
    """A reading as it is kept."""

    machine_tag = serializers.CharField(source="machine.tag")
    meter = serializers.DecimalField(9, 2, source="shows", help_text="What the meter showed.")
    code = serializers.ChoiceField(KEPT_CODES, help_text="Why it is held; 'ok' when plausible.")

    class Meta:
        model = Reading
        fields = [
            "id",
            "machine",
            "machine_tag",
            "segment",
            "taken_at",
            "meter",
            "hours",
            "state",
            "code",
            "reason",
            "suggestion",
            "suggested_at",
            "source",
            "client_id",
            "taken_by",
            "received_at",
            "note",
            "decided_by",
            "decided_at",
            "decision",
            "corrects",
        ]
        read_only_fields = fields


class ReadingFilter(FormerFilters):
    former_values = {"state": {"struck": "discarded"}}

    machine = IdFilter(field_name="machine_id")
    state = django_filters.ChoiceFilter(choices=Reading.State.choices)
    taken_after = MomentFilter(field_name="taken_at", lookup_expr="gte")
    taken_before = MomentFilter(field_name="taken_at", lookup_expr="lt")


class ReadingRows(ScopedView):
    model = Reading
    serializer_class: type[serializers.Serializer] = ReadingSerializer

    def rows(self, own: Any) -> Any:
        return own.select_related("machine")


class ReadingsView(ReadingRows, ListAPIView):
    """The readings received, and the way in for new ones."""

    filterset_class = ReadingFilter
    rights = {"POST": ANY_MEMBER}
    parser_classes = [JsonRows, LinedRows, CsvRows]

    @property
    def open_to_devices(self) -> bool:
        return self.request.method == "POST"

    @extend_schema(
        operation_id="readings_list", responses={200: ReadingSerializer(many=True), **problems(404)}
    )
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the organisation's readings, the latest first."""
        return super().get(request, *args, **kwargs)

    @extend_schema(
        operation_id="readings_take",
        parameters=[IDEMPOTENCY_KEY],
        request=BODIES,
        responses={200: ReceiptsSerializer, **problems(409, 411, 413, 415, 422)},
        examples=[
            OpenApiExample(
                "2. Send readings",
                {
                    "readings": [
                        {"machine": "T-07", "taken_at": "2026-05-03T07:40:00Z", "meter": "1204.5"},
                        {"machine": 7, "taken_at": "2026-05-04T06:10:00Z", "meter": "1209.1"},
                    ]
                },
                request_only=True,
                media_type="application/json",
            )
        ],
    )
    def post(self, request: Request) -> HttpResponse:
        """Send in up to 5,000 readings, 8 MB at most; the body may be packed (`Content-Encoding: gzip`).

        Each row gets its outcome: `counted`; `held`, when it can't be true and waits for a person;
        `duplicate`, when it had been received before; `refused`, when it can't be read, the machine is
        unknown or the token may not send for it. A bad row never sinks the good ones; a body that can't be
        read as JSON, lines or CSV is refused whole, with the numbers of the lines. Sending the same rows
        again changes nothing.
        """
        sent, key = received(request), key_of(request._request)
        organisation, asked = organisation_of(request), caller(request)
        sender = cast(str, asked.sender)

        def work() -> bytes:
            return written(
                readings.take(
                    organisation=organisation,
                    rows=sent.rows,
                    source=Reading.Source.API,
                    sender=sender,
                    member=asked.member,
                    token=asked.token,
                )
            )

        if key is None:
            answer = work()
        else:
            answer = idempotency.once(
                organisation=organisation,
                sender=sender,
                key=key,
                fingerprint=sent.fingerprint,
                work=work,
            )
        return HttpResponse(answer, content_type="application/json")


class ReadingView(ReadingRows, RetrieveAPIView):
    @extend_schema(responses={200: ReadingSerializer, **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Show one reading."""
        return super().get(request, *args, **kwargs)
