"""What is sent in and what is answered, as the API's document has it, and the answer as it is written."""

import json
from collections.abc import Iterable
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from fleet.api.fields import HoursField, MomentField
from fleet.readings.submission import COUNTED, DUPLICATE, HELD, REFUSED, Receipt

OUTCOMES = (COUNTED, HELD, DUPLICATE, REFUSED)


@extend_schema_field({"oneOf": [{"type": "integer"}, {"type": "string"}]})
class MachineNameField(serializers.Field):
    """A machine by its id (a number), or by its tag or serial number (text)."""


class ReadingInSerializer(serializers.Serializer):
    """One reading as it is sent. Only the document uses this; `readings.take` reads each row by itself."""

    machine = MachineNameField(help_text="Id as a number; tag or serial number as text.")
    taken_at = MomentField(help_text="ISO 8601 with a time zone.")
    meter = HoursField(help_text="What the meter showed, in hours.")
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
    """What became of one row. Only the document uses this; `written` writes it."""

    outcome = serializers.ChoiceField(OUTCOMES)
    code = serializers.CharField()
    reason = serializers.CharField(allow_blank=True)
    reading = serializers.IntegerField(allow_null=True)
    machine = serializers.IntegerField(allow_null=True)
    machine_hours = serializers.DecimalField(9, 2, allow_null=True, help_text="After the whole batch.")
    client_id = serializers.CharField(allow_null=True)


class ReceiptsSerializer(serializers.Serializer):
    """A receipt for each row, in the order in which they were sent, and how many of each outcome."""

    readings = ReceiptSerializer(many=True)
    counted = serializers.IntegerField()
    held = serializers.IntegerField()
    duplicate = serializers.IntegerField()
    refused = serializers.IntegerField()


def written(receipts: Iterable[Receipt]) -> bytes:
    """Return the answer as JSON: ReceiptsSerializer's, without its work on each of thousands of rows."""
    tally: dict[str, Any] = dict.fromkeys(OUTCOMES, 0)
    rows = []
    for receipt in receipts:
        tally[receipt.state] += 1
        machine = receipt.machine
        rows.append(
            {
                "outcome": receipt.state,
                "code": receipt.code,
                "reason": receipt.reason,
                "reading": receipt.reading_id,
                "machine": machine and machine.pk,
                "machine_hours": machine and f"{machine.hours:.2f}",
                "client_id": receipt.client_id,
            }
        )
    return json.dumps({"readings": rows, **tally}, ensure_ascii=False, separators=(",", ":")).encode()
