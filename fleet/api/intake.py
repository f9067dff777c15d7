"""What is sent in with readings and what is answered, as the API's document has it and as it is written."""

import json
import re
from collections.abc import Iterable
from typing import Any

from django.http import HttpRequest
from django.utils.translation import gettext as _
from drf_spectacular.utils import OpenApiParameter, extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ParseError

from fleet.api.serializers import HoursField, MomentField
from fleet.models import Reading
from fleet.readings.submission import COUNTED, DUPLICATE, HELD, REFUSALS, REFUSED, Receipt
from fleet.usage.plausibility import CODES

LONGEST_KEY = 255
QUOTED = re.compile(r'"((?:[ !#-\[\]-~]|\\["\\])*)"')  # a string of RFC 8941, 3.3.3
BARE = re.compile(r"[!#-\[\]-~]+")  # what boxes send that don't know of structured fields
KEY_HELP = (
    "A key of your own for this request, such as a UUID in quotes; 255 characters at most. Sent again with "
    "the same body within 14 days it gets the first answer and changes nothing; with another body it is "
    "refused (422); while the first is being worked on the answer is 409. A request that was refused as a "
    "whole (4xx) keeps no key."
)
IDEMPOTENCY_KEY = OpenApiParameter("Idempotency-Key", str, OpenApiParameter.HEADER, description=KEY_HELP)
OUTCOMES = (COUNTED, HELD, DUPLICATE, REFUSED)
KEPT_CODES = tuple(dict.fromkeys([*CODES, *Reading.CLOCK_CODES, Reading.IN_DOUBT]))
"""Why a reading that is kept counts or is held, as codes."""


@extend_schema_field({"oneOf": [{"type": "integer"}, {"type": "string"}]})
class MachineNameField(serializers.Field):
    """A machine by its id (a number), or by its tag or serial number (text)."""


class ReadingInSerializer(serializers.Serializer):
    """One reading as it is sent. Only the document uses this; `readings.take` reads each row by itself."""

    machine = MachineNameField(help_text="Id as a number; fleet number or serial number as text.")
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
    code = serializers.ChoiceField([*KEPT_CODES, *(code for code in REFUSALS if code not in KEPT_CODES)])
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


def key_of(request: HttpRequest) -> str | None:
    """Return the Idempotency-Key of a request; None when none was sent.

    Raises ParseError for what can't be one. Source: IETF draft draft-ietf-httpapi-idempotency-key-header.
    """
    given = request.headers.get("Idempotency-Key")
    if given is None:
        return None
    given = given.strip()
    quoted = QUOTED.fullmatch(given)
    key = re.sub(r"\\(.)", r"\1", quoted[1]) if quoted else given
    if not key or len(key) > LONGEST_KEY or not (quoted or BARE.fullmatch(given)):
        sentence = _("The Idempotency-Key can't be used; send 1 to {most} printable characters in quotes.")
        raise ParseError(sentence.format(most=LONGEST_KEY))
    return key
