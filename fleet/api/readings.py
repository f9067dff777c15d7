"""Readings over the API: sent in, looked up, decided about."""

from typing import Any

import django_filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.exceptions import ParseError
from rest_framework.generics import ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet import decisions, readings
from fleet.api.fields import HoursField, MomentField
from fleet.api.permissions import ANY_MEMBER
from fleet.api.problems import TooLarge
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.models import Reading
from fleet.submitted import COUNTED, DUPLICATE, HELD, REFUSED, Receipt, Submitted

MOST_ROWS = 5000
MOST_BYTES = 8 * 1024 * 1024


@extend_schema_field({"oneOf": [{"type": "integer"}, {"type": "string"}]})
class MachineNameField(serializers.Field):
    """A machine by its id (a number), or by its tag or serial number (text)."""


class ReadingInSerializer(serializers.Serializer):
    """One reading as it is sent. Only the document uses this; `readings.take` reads each row by itself."""

    machine = MachineNameField(help_text="Id as a number; tag or serial number as text.")
    taken_at = MomentField(help_text="ISO 8601 with a time zone.")
    shows = HoursField(help_text="What the meter showed, in hours.")
    client_id = serializers.CharField(
        max_length=80,
        required=False,
        help_text="Your own id; sent again with the same id it changes nothing.",
    )
    note = serializers.CharField(required=False)


class ReadingsInSerializer(serializers.Serializer):
    """Up to 5,000 readings. A bare list, or one reading by itself, will do as well."""

    readings = ReadingInSerializer(many=True)


class ReceiptSerializer(serializers.Serializer):
    """What became of one row."""

    outcome = serializers.ChoiceField([COUNTED, HELD, DUPLICATE, REFUSED], source="state")
    code = serializers.CharField()
    reason = serializers.CharField()
    reading = serializers.IntegerField(source="reading.pk", allow_null=True, default=None)
    machine = serializers.IntegerField(source="machine.pk", allow_null=True, default=None)
    machine_hours = serializers.DecimalField(
        9, 2, source="machine.hours", allow_null=True, default=None, help_text="After the whole batch."
    )
    client_id = serializers.CharField(allow_null=True)


class ReceiptsSerializer(serializers.Serializer):
    """A receipt for each row, in the order in which they were sent, and how many of each outcome."""

    readings = ReceiptSerializer(many=True)
    counted = serializers.IntegerField()
    held = serializers.IntegerField()
    duplicate = serializers.IntegerField()
    refused = serializers.IntegerField()


class ReadingSerializer(serializers.ModelSerializer):
    """A reading as it is kept."""

    machine_tag = serializers.CharField(source="machine.tag")

    class Meta:
        model = Reading
        fields = [
            "id",
            "machine",
            "machine_tag",
            "segment",
            "taken_at",
            "shows",
            "hours",
            "state",
            "code",
            "reason",
            "suggestion",
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


class ReadingFilter(django_filters.FilterSet):
    machine = django_filters.NumberFilter(field_name="machine_id")
    state = django_filters.ChoiceFilter(choices=Reading.State.choices)
    taken_after = django_filters.IsoDateTimeFilter(field_name="taken_at", lookup_expr="gte")
    taken_before = django_filters.IsoDateTimeFilter(field_name="taken_at", lookup_expr="lt")


class ReadingRows(ScopedView):
    model = Reading
    serializer_class = ReadingSerializer

    def rows(self, own: Any) -> Any:
        return own.select_related("machine")


class ReadingsView(ReadingRows, ListAPIView):
    """The readings received, and the way in for new ones."""

    filterset_class = ReadingFilter
    rights = {"POST": ANY_MEMBER}

    @property
    def open_to_devices(self) -> bool:
        return self.request.method == "POST"

    @extend_schema(
        operation_id="readings_list", responses={200: ReadingSerializer(many=True), **problems(400)}
    )
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the organisation's readings, the latest first."""
        return super().get(request, *args, **kwargs)

    @extend_schema(
        operation_id="readings_take",
        request=ReadingsInSerializer,
        responses={200: ReceiptsSerializer, **problems(400, 413)},
    )
    def post(self, request: Request) -> Response:
        """Send in readings.

        Each row gets its outcome: `counted`; `held`, when it can't be true and waits for a person;
        `duplicate`, when it had been received before; `refused`, when it can't be read or the machine is
        unknown. A bad row never sinks the good ones. Sending the same rows again changes nothing.
        """
        receipts = readings.take(
            organisation=request.organisation,
            rows=_rows(request),
            source=Reading.Source.API,
            sender=f"token {request.token.pk}" if request.token else f"member {request.member.pk}",
            member=request.member,
            token=request.token,
        )
        return Response(ReceiptsSerializer(_tallied(receipts)).data)


class ReadingView(ReadingRows, RetrieveAPIView):
    @extend_schema(responses={200: ReadingSerializer, **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Show one reading."""
        return super().get(request, *args, **kwargs)


class CountSerializer(serializers.Serializer):
    note = serializers.CharField(required=False, allow_blank=True, default="")


class StrikeSerializer(serializers.Serializer):
    note = serializers.CharField(help_text="Why it is struck.")


class CorrectionSerializer(serializers.Serializer):
    shows = HoursField(help_text="What the meter truly showed, in hours.")
    taken_at = MomentField(required=False, help_text="When it was truly read, if that was wrong too.")
    note = serializers.CharField(required=False, allow_blank=True, default="")


class Decision(ReadingRows):
    """A decision about one reading; needs the right to decide about readings."""

    rights = {"POST": "decide_readings"}

    def decided(self, process: Any, answer: int = status.HTTP_200_OK) -> Response:
        """Carry the decision out and show the reading that came of it."""
        given = self.get_serializer(data=self.request.data)
        given.is_valid(raise_exception=True)
        reading = process(
            reading=self.get_object(), member=self.request._request.member, **given.validated_data
        )
        return Response(ReadingSerializer(reading).data, status=answer)


class CountView(Decision):
    serializer_class = CountSerializer

    @extend_schema(
        request=CountSerializer, responses={200: ReadingSerializer, **problems(400, 404, 409, 422)}
    )
    def post(self, request: Request, pk: int) -> Response:
        """Let a held reading count as it stands."""
        return self.decided(decisions.count)


class StrikeView(Decision):
    serializer_class = StrikeSerializer

    @extend_schema(request=StrikeSerializer, responses={200: ReadingSerializer, **problems(400, 404, 409)})
    def post(self, request: Request, pk: int) -> Response:
        """Withdraw a reading; it is kept, with the reason."""
        return self.decided(decisions.strike)


class CorrectView(Decision):
    serializer_class = CorrectionSerializer

    @extend_schema(
        request=CorrectionSerializer, responses={201: ReadingSerializer, **problems(400, 404, 409, 422)}
    )
    def post(self, request: Request, pk: int) -> Response:
        """Put a new reading in the place of a wrong one, which is struck. Answers with the new one."""
        return self.decided(decisions.correct, status.HTTP_201_CREATED)


def _rows(request: Request) -> list[Submitted]:
    """Read the body: rows under `readings`, a bare list, or one row. Raises ParseError, TooLarge."""
    if int(request.META.get("CONTENT_LENGTH") or 0) > MOST_BYTES:
        raise TooLarge(f"Send at most {MOST_BYTES // 1024**2} MB at once.")
    try:
        body = request.data
    except RecursionError:
        raise ParseError("The body is nested too deeply.") from None
    if isinstance(body, dict):
        body = body.get("readings", [body] if "machine" in body else None)
    if not isinstance(body, list):
        raise ParseError('Send {"readings": [...]}, a list of readings, or one reading with its machine.')
    if len(body) > MOST_ROWS:
        raise TooLarge(f"Send at most {MOST_ROWS:,} readings at once; these are {len(body):,}.")
    return [_row(row if isinstance(row, dict) else {}) for row in body]


def _row(row: dict[str, Any]) -> Submitted:
    return Submitted(
        machine=row.get("machine"),
        taken_at=row.get("taken_at"),
        shows=row.get("shows"),
        client_id=row.get("client_id"),
        note=row.get("note"),
    )


def _tallied(receipts: list[Receipt]) -> dict[str, Any]:
    tally: dict[str, Any] = dict.fromkeys((COUNTED, HELD, DUPLICATE, REFUSED), 0)
    for receipt in receipts:
        tally[receipt.state] += 1
    return {"readings": receipts, **tally}
