"""What the page behind a sticker needs: the member's machines to keep, and a way in for what waited."""

from datetime import timedelta
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.views.decorators.csrf import ensure_csrf_cookie
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers, status
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.caller import ANY_MEMBER, member_of
from fleet.api.former_names import FormerFields
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.api.serializers import KnownFieldsSerializer
from fleet.core.sticker_codes import read_code
from fleet.models import Machine, Reading, ReadingPhoto
from fleet.readings import mobile_entry
from fleet.readings.submission import COUNTED, DUPLICATE, HELD, Receipt
from servicing.api.order_serializers import PhotoInSerializer
from servicing.duties.machine_cards import cards

LONGEST_WITHOUT_A_LINE = timedelta(days=366)


class CardSerializer(serializers.Serializer):
    """One machine, in words ready to be shown, and what its meter showed last."""

    machine = serializers.IntegerField()
    code = serializers.CharField(help_text="What its sticker says.")
    tag = serializers.CharField()
    about = serializers.CharField()
    last = serializers.CharField(help_text="The last counted reading.")
    due = serializers.CharField(help_text="What is due next.")
    overdue = serializers.BooleanField(help_text="Whether something is overdue.")
    meter = serializers.DecimalField(9, 2, allow_null=True, help_text="What the meter showed last, in hours.")
    read_at = serializers.DateTimeField(allow_null=True)


class PhoneSerializer(serializers.Serializer):
    """Who is signed in, and the machines with a meter."""

    member = serializers.IntegerField()
    name = serializers.CharField()
    machines = CardSerializer(many=True)


class EntrySerializer(FormerFields, KnownFieldsSerializer):
    """One reading as it was entered on a phone, now or while there was no signal."""

    former = {"shows": "meter"}  # as entries say it that waited on a phone while this version came

    member = serializers.IntegerField(min_value=1, help_text="Who entered it: must be the one signed in.")
    machine = serializers.IntegerField(
        allow_null=True,
        required=False,
        default=None,
        help_text="Its id; null if the phone only knows a code.",
    )
    code = serializers.CharField(max_length=40, allow_blank=True, required=False, default="")
    read_seconds_ago = serializers.IntegerField(
        min_value=0,
        max_value=int(LONGEST_WITHOUT_A_LINE.total_seconds()),
        help_text="How long it has waited: a phone's clock may be wrong, its seconds are not.",
    )
    meter = serializers.CharField(
        max_length=40, source="shows", help_text="What the meter showed, in hours, with a point."
    )
    client_id = serializers.CharField(
        max_length=80, help_text="The phone's own id for the entry; sending it again changes nothing."
    )
    note = serializers.CharField(max_length=2000, allow_blank=True, required=False, default="")


class EntryReceiptSerializer(serializers.Serializer):
    """What became of an entry: `outcome` of this sending, `state` of the reading now."""

    outcome = serializers.ChoiceField([COUNTED, HELD, DUPLICATE])
    state = serializers.ChoiceField(Reading.State.choices)
    reason = serializers.CharField(help_text="Why it is held, or that it had been sent before.")
    reading = serializers.IntegerField()
    meter = serializers.DecimalField(9, 2)
    page = serializers.CharField(help_text="Where the reading is shown.")


class ReadingPhotoSerializer(serializers.Serializer):
    """A photo that is kept."""

    id = serializers.IntegerField(source="pk")
    url = serializers.SerializerMethodField(help_text="For members who are signed in.")

    def get_url(self, photo: ReadingPhoto) -> str:
        return reverse("media", args=[photo.image.name])


@method_decorator(ensure_csrf_cookie, name="get")
class PhoneView(ScopedView):
    model = Machine
    parameters = {"code"}
    serializer_class = PhoneSerializer
    pagination_class = None
    filter_backends: list[Any] = []

    @extend_schema(
        operation_id="phone_machines",
        parameters=[OpenApiParameter("code", str, description="Only the machine whose sticker says this.")],
        responses={200: PhoneSerializer, **problems()},
    )
    def get(self, request: Request) -> Response:
        """List all machines with a meter at once, for a phone to keep while it has no signal."""
        member = member_of(request)
        code = request.query_params.get("code")
        told = cards(member, code=code and read_code(code))
        kept = {"member": member.pk, "name": str(member), "machines": told}
        return Response(PhoneSerializer(kept).data)


class PhoneEntriesView(ScopedView):
    model = Reading
    serializer_class = EntrySerializer
    rights = {"POST": ANY_MEMBER}

    @extend_schema(
        operation_id="phone_enter",
        request=EntrySerializer,
        responses={200: EntryReceiptSerializer, **problems(409, 415, 422)},
    )
    def post(self, request: Request) -> Response:
        """Send in one entry of a phone.

        409: somebody else is signed in now. 422: it can't be kept, for the reason told.
        """
        given = self.given()
        member = member_of(request)
        mobile_entry.speaks_for(member=member, entered_by=given.pop("member"))
        given["taken_at"] = timezone.now() - timedelta(seconds=given.pop("read_seconds_ago"))
        return Response(EntryReceiptSerializer(_told(mobile_entry.enter(member=member, **given))).data)


class PhonePhotoSerializer(PhotoInSerializer):
    member = serializers.IntegerField(
        required=False, help_text="Who took it, by id: a photo of another member is refused."
    )


class PhonePhotosView(ScopedView):
    model = Reading
    rights = {"POST": ANY_MEMBER}
    parser_classes = [MultiPartParser]
    serializer_class = PhonePhotoSerializer

    @extend_schema(
        operation_id="phone_photo",
        request={"multipart/form-data": PhonePhotoSerializer},
        responses={201: ReadingPhotoSerializer, **problems(404, 409, 415, 422, 507)},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Keep a photo of the meter with its reading; the same photo sent twice is kept once.

        409: somebody else is signed in now.
        """
        given = self.given()
        member = member_of(request)
        mobile_entry.speaks_for(member=member, entered_by=given.pop("member", member.pk))
        photo = mobile_entry.add_photo(reading=self.get_object(), member=member, **given)
        return Response(ReadingPhotoSerializer(photo).data, status=status.HTTP_201_CREATED)


def _told(receipt: Receipt) -> dict[str, Any]:
    reading = receipt.reading
    assert reading is not None, "only a refused row has no reading, and that was raised"
    return {
        "outcome": receipt.state,
        "state": reading.state,
        "reason": reading.reason if reading.state == Reading.State.HELD else receipt.reason,
        "reading": reading.pk,
        "meter": reading.shows,
        "page": reverse("reading", args=[reading.pk]),
    }
