"""What people decide about readings, over the API: each decision, its undoing, and what speaks for it."""

from collections.abc import Callable
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.caller import member_of
from fleet.api.former_names import FormerFields
from fleet.api.readings import ReadingRows, ReadingSerializer
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.api.serializers import HoursField, IdField, MomentField
from fleet.core.errors import WrongState
from fleet.models import Decision, Reading
from fleet.readings import decisions
from fleet.readings.diagnosis import Case, MeterChange, case_of, with_neighbours


class NoteSerializer(serializers.Serializer):
    note = serializers.CharField(required=False, allow_blank=True, default="", max_length=2000)


class CountSerializer(NoteSerializer):
    confirmed = serializers.BooleanField(
        required=False,
        default=False,
        help_text="Count it even if that sets the machine's hours back or contradicts counted readings.",
    )


class DiscardSerializer(serializers.Serializer):
    note = serializers.CharField(max_length=2000, help_text="Why it is discarded.")


class CorrectionSerializer(FormerFields, NoteSerializer):
    former = {"shows": "meter"}

    meter = HoursField(source="shows", help_text="What the meter really showed, in hours.")
    taken_at = MomentField(required=False, help_text="When it was really read, if that was wrong too.")


class SwapSerializer(NoteSerializer):
    other = IdField(help_text="The reading of the other machine with which it was mixed up.")


class DecisionSerializer(serializers.ModelSerializer):
    """A decision about a reading as it is kept; none is ever changed or deleted."""

    by_name = serializers.SerializerMethodField()

    class Meta:
        model = Decision
        fields = ["id", "kind", "was", "became", "by", "by_name", "at", "note", "made", "undoes"]
        read_only_fields = fields

    def get_by_name(self, decision: Decision) -> str:
        return str(decision.by or "")


class ChangeSerializer(serializers.Serializer):
    """A change of the meter that is proposed: `wraps_at` where it rolled over, else the two figures."""

    at = serializers.DateTimeField()
    wraps_at = serializers.DecimalField(9, 2, allow_null=True)
    old_meter = serializers.DecimalField(9, 2, source="old_shows", allow_null=True)
    new_meter = serializers.DecimalField(9, 2, source="new_shows", allow_null=True)
    since = serializers.SerializerMethodField(
        help_text="The held readings that follow on from each other on the new meter."
    )

    def get_since(self, change: MeterChange) -> list[int]:
        return [reading.pk for reading in change.since]


class CaseSerializer(serializers.Serializer):
    """What may lie behind a held reading; proposals to a person, never carried out by themselves."""

    suggestion = serializers.DecimalField(
        9, 2, source="reading.suggestion", allow_null=True, help_text="The figure that was probably meant."
    )
    suggested_at = serializers.DateTimeField(
        source="reading.suggested_at", allow_null=True, help_text="When it was probably read."
    )
    swap = serializers.SerializerMethodField(help_text="The reading with which it was probably mixed up.")
    change = ChangeSerializer(allow_null=True)

    def get_swap(self, case: Case) -> int | None:
        return case.swap.pk if case.swap else None


class CaseView(ReadingRows):
    serializer_class = CaseSerializer
    reading_right = "decide_readings"

    def rows(self, own: QuerySet) -> QuerySet:
        return with_neighbours(super().rows(own))

    @extend_schema(operation_id="reading_case", responses={200: CaseSerializer, **problems(404, 409)})
    def get(self, request: Request, pk: int) -> Response:
        """Show what may lie behind a held reading: a slip, a swap, a new meter, one that rolled over."""
        reading = self.get_object()
        if reading.state != Reading.State.HELD:
            counted = reading.state == Reading.State.COUNTED
            raise WrongState(
                _("This reading is counted; there is nothing to decide.")
                if counted
                else _("This reading is discarded; there is nothing to decide.")
            )
        return Response(self.get_serializer(case_of(reading)).data)


class DecisionsView(ScopedView, ListAPIView):
    model = Decision
    serializer_class = DecisionSerializer
    pagination_class = None
    filter_backends = []

    def rows(self, own: QuerySet) -> QuerySet:
        return own.filter(reading=self.one(Reading, self.kwargs["pk"])).select_related("by__user")

    @extend_schema(
        operation_id="reading_decisions", responses={200: DecisionSerializer(many=True), **problems(404)}
    )
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List what was decided about a reading, by whom and when, the first decision first."""
        return super().get(request, *args, **kwargs)


class DecideView(ReadingRows):
    """A decision about one reading; needs the right to decide about readings."""

    rights = {"POST": "decide_readings"}

    def decided(self, process: Callable[..., Reading], code: int = status.HTTP_200_OK) -> Response:
        """Carry the decision out and show the reading that came of it."""
        given = self.given()
        reading = process(reading=self.get_object(), member=member_of(self.request), **given)
        return Response(ReadingSerializer(reading).data, status=code)


class CountView(DecideView):
    serializer_class = CountSerializer

    @extend_schema(
        request=CountSerializer, responses={200: ReadingSerializer, **problems(404, 409, 415, 422)}
    )
    def post(self, request: Request, pk: int) -> Response:
        """Let a held reading count as it stands; where it contradicts what is counted, once confirmed."""
        return self.decided(decisions.count)


class DiscardView(DecideView):
    serializer_class = DiscardSerializer

    @extend_schema(request=DiscardSerializer, responses={200: ReadingSerializer, **problems(404, 409, 415)})
    def post(self, request: Request, pk: int) -> Response:
        """Discard a reading; it is kept, with the reason."""
        return self.decided(decisions.discard)


class CorrectView(DecideView):
    serializer_class = CorrectionSerializer

    @extend_schema(
        request=CorrectionSerializer, responses={201: ReadingSerializer, **problems(404, 409, 415, 422)}
    )
    def post(self, request: Request, pk: int) -> Response:
        """Put a new reading in the place of a wrong one, which is discarded. Answers with the new one."""
        return self.decided(decisions.correct, status.HTTP_201_CREATED)


class SwapView(DecideView):
    serializer_class = SwapSerializer

    @extend_schema(
        request=SwapSerializer,
        responses={201: ReadingSerializer(many=True), **problems(404, 409, 415, 422)},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Put two machines' readings, written down for each other, where they belong.

        Both are discarded. Answers with the two new ones, that of the machine named in the address first.
        """
        given, mine = self.given(), self.get_object()
        (other,) = self.found(Reading, "other", [given.pop("other")])
        made = decisions.swap(reading=mine, other=other, member=member_of(request), **given)
        return Response(ReadingSerializer(made, many=True).data, status=status.HTTP_201_CREATED)


class UndoView(DecideView):
    serializer_class = NoteSerializer

    @extend_schema(request=NoteSerializer, responses={200: ReadingSerializer, **problems(404, 409, 415)})
    def post(self, request: Request, pk: int) -> Response:
        """Undo the last decision about a reading, and both halves of a swap. The undoing is kept too."""
        return self.decided(decisions.undo)
