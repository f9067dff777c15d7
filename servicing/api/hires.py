"""Hires over the API: units sent out and taken back, who has one, and what was noted on both ways."""

from functools import partial
from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.generics import ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.caller import member_of
from fleet.api.filters import Filters, IdFilter, OrderingFilter, YesNoFilter
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.api.serializers import HoursField, IdField, KnownFieldsSerializer
from fleet.models import Booking, Hire, Machine
from fleet.models.hire import HireQuerySet
from servicing import gate
from servicing.gate import Answer, FaultSeen, Verdict
from servicing.models import Fault


class HireNoteSerializer(serializers.Serializer):
    """A note of a hire, with who wrote it and when."""

    way = serializers.ChoiceField(
        ["out", "back"], allow_blank=True, help_text='"": an old note; whether out or back is not known.'
    )
    by = serializers.CharField(allow_blank=True, help_text='"": not known.')
    at = serializers.DateTimeField(allow_null=True, help_text="null: not known.")
    text = serializers.CharField()


class HireSerializer(serializers.ModelSerializer):
    """A machine's time with a hirer; hours are total hours, fuel is per cent of a full tank."""

    out_by = serializers.SerializerMethodField()
    back_by = serializers.SerializerMethodField()
    notes = serializers.SerializerMethodField()

    class Meta:
        model = Hire
        fields = [
            "id",
            "machine",
            "hirer",
            "booking",
            "due_back_on",
            "out_at",
            "out_by",
            "hours_out",
            "fuel_out",
            "back_at",
            "back_by",
            "hours_back",
            "fuel_back",
            "notes",
        ]
        read_only_fields = fields

    def get_out_by(self, hire: Hire) -> str:
        return str(hire.out_by or "")

    def get_back_by(self, hire: Hire) -> str:
        return str(hire.back_by or "")

    @extend_schema_field(HireNoteSerializer(many=True))
    def get_notes(self, hire: Hire) -> list[dict[str, Any]]:
        return HireNoteSerializer(hire.notes, many=True).data  # type: ignore[return-value]  # many: a list


class FaultSeenSerializer(KnownFieldsSerializer):
    """A fault seen on the walk round the unit."""

    text = serializers.CharField(max_length=2000)
    severity = serializers.ChoiceField(Fault.Severity.choices, default=Fault.Severity.SOON)


class OnTheWaySerializer(KnownFieldsSerializer):
    """What is read at the gate, whichever way the unit goes."""

    meter = HoursField(source="shows", required=False, allow_null=True, default=None)
    fuel = serializers.IntegerField(
        required=False,
        allow_null=True,
        default=None,
        min_value=0,
        max_value=100,
        help_text="Per cent of a full tank.",
    )
    note = serializers.CharField(required=False, allow_blank=True, default="", max_length=2000)


class SendOutSerializer(OnTheWaySerializer):
    machine = IdField()
    hirer = serializers.CharField(max_length=120)
    due_back_on = serializers.DateField(
        required=False, allow_null=True, default=None, help_text="null: the booking's last day, or open."
    )
    hours_a_day = serializers.DecimalField(
        4, 2, required=False, allow_null=True, default=None, help_text="What it will likely run."
    )
    booking = IdField(
        required=False,
        allow_null=True,
        default=None,
        help_text="null: the hirer's own of these days, if any.",
    )
    anyway_reason = serializers.CharField(
        required=False,
        allow_blank=True,
        default="",
        max_length=500,
        help_text="Why it goes although service comes first or its days are promised: by who plans orders.",
    )


class TakeBackSerializer(OnTheWaySerializer):
    faults_seen = FaultSeenSerializer(source="faults", many=True, required=False, default=list)


class AtTheGateSerializer(serializers.Serializer):
    """The hire, and what the gate says of the unit now."""

    hire = HireSerializer()
    verdict = serializers.ChoiceField(Verdict.choices)
    reasons = serializers.ListField(child=serializers.CharField(), help_text="Against its going out now.")
    notes = serializers.ListField(child=serializers.CharField())
    held = serializers.CharField(allow_blank=True, help_text='Said where the hours are held; "": they count.')


class HireFilter(Filters):
    machine = IdFilter(field_name="machine_id")
    out = YesNoFilter(field_name="back_at", lookup_expr="isnull", label="whether it is out")
    ordering = OrderingFilter(fields=["out_at", "back_at", "due_back_on"])


class HireRows(ScopedView):
    model = Hire
    serializer_class: type[serializers.Serializer] = HireSerializer

    def rows(self, own: HireQuerySet) -> QuerySet:
        return own.with_people()

    def told(self, answer: Answer, code: int = status.HTTP_200_OK) -> Response:
        """Answer with the hire as it is now and what the gate says."""
        return Response(AtTheGateSerializer(answer).data, status=code)


class HiresView(HireRows, ListAPIView):
    filterset_class = HireFilter
    rights = {"POST": "gate"}

    @extend_schema(operation_id="hires_list", responses={200: HireSerializer(many=True), **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the hires, the latest first."""
        return super().get(request, *args, **kwargs)

    @extend_schema(
        operation_id="hires_send_out",
        request=SendOutSerializer,
        responses={201: AtTheGateSerializer, **problems(409, 415, 422)},
    )
    def post(self, request: Request) -> Response:
        """Send a unit out, with its hours and fuel.

        409 where it is kept in; nothing is recorded then. Nobody overrules a tag-out, the shop or another
        hire; `anyway_reason` overrules service that comes first and days that are promised.
        """
        given = self.given(SendOutSerializer)
        machine = self.found(Machine, "machine", [given.pop("machine")])[0]
        booking = given.pop("booking")
        answer = gate.check_out(
            machine=machine,
            booking=None if booking is None else self.found(Booking, "booking", [booking])[0],
            member=member_of(request),
            **given,
        )
        return self.told(answer, status.HTTP_201_CREATED)


class HireView(HireRows, RetrieveAPIView):
    @extend_schema(responses={200: HireSerializer, **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Show one hire."""
        return super().get(request, *args, **kwargs)


class TakeBackView(HireRows):
    rights = {"POST": "gate"}
    serializer_class = TakeBackSerializer

    @extend_schema(
        operation_id="hires_take_back",
        request=TakeBackSerializer,
        responses={200: AtTheGateSerializer, **problems(404, 409, 415, 422)},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Take a unit back, with its hours, fuel and the faults seen; says whether it can go out again.

        Hours that can't be true are held and don't stop the return. 409 where it was taken back already:
        send what a second person saw to `additions`.
        """
        return self.kept(partial(gate.check_in, machine=self.get_object().machine))

    def kept(self, process: Any) -> Response:
        given, hire = self.given(), self.get_object()
        faults = [FaultSeen(**seen) for seen in given.pop("faults")]
        return self.told(process(hire=hire, faults=faults, member=member_of(self.request), **given))


class AdditionsView(TakeBackView):
    @extend_schema(
        operation_id="hires_add_to_return",
        request=TakeBackSerializer,
        responses={200: AtTheGateSerializer, **problems(404, 409, 415, 422)},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Add to a return what a second person saw; what stands of it stays."""
        return self.kept(gate.add_to_return)
