"""The OpenAPI document, and how its security schemes are named."""

from typing import Any

from django.conf import settings
from django.utils import translation
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.utils import OpenApiResponse
from drf_spectacular.views import SpectacularAPIView
from rest_framework import serializers

from fleet.calendar.commitments import Kind
from fleet.core.languages import ENGLISH

__all__ = ["EnglishGenerator", "Schema", "problems"]


class BearerScheme(OpenApiAuthenticationExtension):
    target_class = "fleet.api.caller.TokenAuthentication"
    name = "bearer"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {
            "type": "http",
            "scheme": "bearer",
            "description": "The token of a person or of a device. A device's token may only send readings.",
        }


class SessionScheme(OpenApiAuthenticationExtension):
    target_class = "fleet.api.caller.MemberSessionAuthentication"
    name = "session"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {
            "type": "apiKey",
            "in": "cookie",
            "name": settings.SESSION_COOKIE_NAME,
            "description": "The sign-in of a browser; what writes also needs the CSRF token.",
        }


class ProblemErrorSerializer(serializers.Serializer):
    """One value that can't be used: where it is, and why."""

    detail = serializers.CharField()
    pointer = serializers.CharField(required=False, help_text="JSON pointer into the body.")
    parameter = serializers.CharField(required=False, help_text="Name of the query parameter.")
    line = serializers.IntegerField(required=False, help_text="Line of the body, the first one being 1.")
    of = serializers.DictField(
        child=serializers.IntegerField(),
        required=False,
        help_text="Which `line`, `check`, `part` or `technician` of an order it is about, by id.",
    )


class ConflictSerializer(serializers.Serializer):
    """Something that takes the machine's days already."""

    kind = serializers.ChoiceField(Kind.choices)
    id = serializers.IntegerField(help_text="Of the tag-out, hire, booking or order.")
    first_on = serializers.DateField()
    last_on = serializers.DateField(allow_null=True, help_text="null: open-ended.")
    detail = serializers.CharField()


class DifferingSerializer(serializers.Serializer):
    """An entry that was sent with one value and is recorded with another."""

    pointer = serializers.CharField(help_text="JSON pointer into the body; to the list where it lacks it.")
    sent = serializers.CharField(allow_blank=True)
    recorded = serializers.CharField(allow_blank=True)
    recorded_by = serializers.CharField(allow_blank=True, help_text='"": not known.')
    recorded_at = serializers.DateTimeField(allow_null=True, help_text="null: not known.")


class ProblemSerializer(serializers.Serializer):
    """A problem document (RFC 9457)."""

    type = serializers.CharField()
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField()
    errors = ProblemErrorSerializer(many=True, required=False)  # type: ignore[assignment]  # is a field
    conflicts = ConflictSerializer(many=True, required=False)
    differing = DifferingSerializer(many=True, required=False)


PROBLEMS = {
    400: "The request can't be read, or a value in it can't be used.",
    401: "No token or sign-in, or one that is unknown or revoked.",
    403: "The role, or a device's token, does not allow this.",
    404: "Not found in this organisation, or no such page of the list.",
    409: "Somebody else changed it, or it is not in a state in which this can be done.",
    406: "The route answers in JSON, which the request doesn't accept.",
    411: "The request doesn't say how long its body is.",
    413: "More than the route takes at once.",
    415: "The body is of another media type, or packed in another way, than the route reads.",
    422: "The values can be read but can't be true.",
    429: "Too many requests in this minute, or unknown tokens; Retry-After says how many seconds to wait.",
    503: "The database doesn't answer just now; send it again later.",
    507: "There is no room for the photo just now; send it again later.",
}


def problems(*statuses: int) -> dict[tuple[int, str], OpenApiResponse]:
    """Return the problem responses of these statuses, and of those that any route may give."""
    return {
        (status, "application/problem+json"): OpenApiResponse(ProblemSerializer, PROBLEMS[status])
        for status in sorted({400, 401, 403, 406, 429, 503, *statuses})
    }


class EnglishGenerator(SchemaGenerator):
    """Writes the document in English, whoever asks for it: programs read it."""

    def get_schema(self, request: Any = None, public: bool = False) -> Any:
        with translation.override(ENGLISH):
            return super().get_schema(request, public)


class Schema(SpectacularAPIView):
    """The OpenAPI document."""

    generator_class = EnglishGenerator
