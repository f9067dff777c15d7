"""Work orders over the API: listed, planned, moved on, closed. The rules are those of the pages."""

from collections.abc import Callable
from datetime import timedelta
from itertools import pairwise
from typing import Any

import django_filters
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import status
from rest_framework.exceptions import ValidationError
from rest_framework.generics import ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import Serializer

from fleet.api.caller import member_of
from fleet.api.filters import IdFilter
from fleet.api.former_names import FormerFilters
from fleet.api.schema import problems
from fleet.api.scoped import ScopedView
from fleet.core.number_reader import read_whole
from fleet.models import Machine
from servicing import workorders
from servicing.api.order_serializers import (
    AmendSerializer,
    CloseSerializer,
    CorrectionSerializer,
    LinePhotoSerializer,
    OrderSerializer,
    PhotoInSerializer,
    PlanSerializer,
    ReasonSerializer,
    RecordSerializer,
    RevisionSerializer,
)
from servicing.models import Duty, Fault, Technician, WorkOrder
from servicing.models.workorder import WorkOrderQuerySet
from servicing.workorders import CheckEntry, Entries, LabourEntry, LineEntry, NotReady, PartEntry
from servicing.workorders.former_names import STATES

WHEN_MOVED = problems(404, 409, 415, 422)
KEYS = {"lines": "line", "checks": "check", "parts": "part", "labour": "technician"}
"""What an entry of each list is told apart by."""
THE_ORDER = OpenApiExample("its id", 58, parameter_only=("id", "path"))


class OrderFilter(FormerFilters):
    former_values = {"state": STATES}

    state = django_filters.MultipleChoiceFilter(choices=WorkOrder.State.choices)
    machine = IdFilter(field_name="machine_id")
    technician = IdFilter(field_name="technician_id")


class OrderRows(ScopedView):
    """Orders with all that is shown of them, and how their refusals are answered."""

    model = WorkOrder
    serializer_class: type[Serializer] = OrderSerializer

    def rows(self, own: WorkOrderQuerySet) -> QuerySet:
        return own.with_everything().prefetch_related(
            "lines__task__checks",
            "lines__recorded_by__user",
            "lines__results__recorded_by__user",
            "lines__photos",
            "parts__part",
            "labour",
            "machine__tag_outs",
            "amendments",
        )

    def handle_exception(self, exc: Exception) -> Response:
        """Add the order's revision to what is refused, and each problem or what differs from the record."""
        response = super().handle_exception(exc)
        if isinstance(exc, workorders.OrderMoved | workorders.OrderNotReadyFor | NotReady):
            response.data["revision"] = exc.revision
        if isinstance(exc, workorders.OrderMoved) and exc.differing:
            response.data["differing"] = [
                {
                    "pointer": _pointer(each.path, self.request.data),
                    "sent": each.entered,
                    "recorded": each.recorded,
                    "recorded_by": each.recorder.by if each.recorder else "",
                    "recorded_at": each.recorder.at if each.recorder else None,
                }
                for each in exc.differing
            ]
        if isinstance(exc, NotReady):
            response.data["errors"] = [
                {
                    "detail": each.sentence,
                    "pointer": _pointer(each.path, self.request.data),
                    "of": _ids(each.path),
                }
                for each in exc.problems
            ]
        return response

    def shown(self, order: WorkOrder, code: int = status.HTTP_200_OK) -> Response:
        """Answer with the order as it is now."""
        return Response(OrderSerializer(self.get_queryset().get(pk=order.pk)).data, status=code)


class OrdersView(OrderRows, ListAPIView):
    filterset_class = OrderFilter
    rights = {"POST": "plan_orders"}

    @extend_schema(operation_id="orders_list", responses={200: OrderSerializer(many=True), **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the organisation's orders by their planned day."""
        return super().get(request, *args, **kwargs)

    @extend_schema(
        operation_id="orders_plan",
        request=PlanSerializer,
        responses={201: OrderSerializer, **problems(409, 415, 422)},
        examples=[
            OpenApiExample(
                "4. Make an order",
                {"machine": 7, "tasks_due": [31], "technician": 3, "planned_for": "2026-05-06"},
                request_only=True,
            )
        ],
    )
    def post(self, request: Request) -> Response:
        """Make an order of tasks due and faults of one machine; 409 names whose days the planned one is."""
        given = self.given(PlanSerializer)
        order = workorders.plan(
            member=member_of(request),
            machine=self.found(Machine, "machine", [given["machine"]])[0],
            duties=self.found(Duty, "tasks_due", given["duties"]),
            faults=self.found(Fault, "faults", given["faults"]),
            technician=self._technician(given["technician"]),
            planned_for=given["planned_for"],
            note=given["note"],
            override_reason=given["override_reason"],
        )
        return self.shown(order, status.HTTP_201_CREATED)

    def _technician(self, pk: int | None) -> Technician | None:
        return None if pk is None else self.found(Technician, "technician", [pk])[0]


class OrderView(OrderRows, RetrieveAPIView):
    @extend_schema(responses={200: OrderSerializer, **problems(404)})
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Show one order with its lines, results, parts and labour."""
        return super().get(request, *args, **kwargs)


class OrderMove(OrderRows):
    """One step in an order's life; 409 where the order has moved on, with its revision."""

    rights = {"POST": "work_orders"}
    serializer_class = RevisionSerializer

    def moved(self, process: Callable[..., WorkOrder]) -> Response:
        given = self.given()
        order = process(order=self.get_object(), member=member_of(self.request), **given)
        return self.shown(order)


class StartView(OrderMove):
    @extend_schema(
        request=RevisionSerializer,
        responses={200: OrderSerializer, **WHEN_MOVED},
        examples=[THE_ORDER, OpenApiExample("5. Begin it", {"revision": 1}, request_only=True)],
    )
    def post(self, request: Request, pk: int) -> Response:
        """Begin a planned order; its machine is in the shop from now on."""
        return self.moved(workorders.start)


class ResumeView(OrderMove):
    @extend_schema(request=RevisionSerializer, responses={200: OrderSerializer, **WHEN_MOVED})
    def post(self, request: Request, pk: int) -> Response:
        """Go on with an order that is on hold."""
        return self.moved(workorders.resume)


class HoldView(OrderMove):
    serializer_class = ReasonSerializer

    @extend_schema(request=ReasonSerializer, responses={200: OrderSerializer, **WHEN_MOVED})
    def post(self, request: Request, pk: int) -> Response:
        """Put an order on hold for parts or a person."""
        return self.moved(workorders.hold)


class CancelView(OrderMove):
    rights = {"POST": "plan_orders"}
    serializer_class = ReasonSerializer

    @extend_schema(request=ReasonSerializer, responses={200: OrderSerializer, **WHEN_MOVED})
    def post(self, request: Request, pk: int) -> Response:
        """Cancel an open order; its tasks can be planned again."""
        return self.moved(workorders.cancel)


class EntriesMove(OrderMove):
    """A step with entries; a failed safety check counts even where these can't be read as a whole."""

    def given(self, serializer: type[Serializer] | None = None, *, partial: bool = False) -> dict[str, Any]:
        try:
            return super().given(serializer, partial=partial)
        except ValidationError:
            workorders.refuse(
                order=self.get_object(),
                member=member_of(self.request),
                entries=Entries(lines=_legible(self.request.data)),
                why=gettext("Some of what was sent could not be read."),
            )
            raise


class RecordView(EntriesMove):
    serializer_class = RecordSerializer

    @extend_schema(request=RecordSerializer, responses={200: OrderSerializer, **WHEN_MOVED})
    def post(self, request: Request, pk: int) -> Response:
        """Keep what has been entered so far of a started order; a failed safety check tags out at once.

        422 names what can't be kept; a safety check that can be read is kept all the same, and `revision` is
        then the order's new one. A failed one tags the machine out at 400 and 409, too. Where the order has
        moved on, 409 names in `differing` each entry that is recorded otherwise, by whom and since when.
        """
        return self.moved(_record)


class CloseView(EntriesMove):
    serializer_class = CloseSerializer

    @extend_schema(
        request=CloseSerializer,
        responses={200: OrderSerializer, **WHEN_MOVED},
        examples=[
            THE_ORDER,
            OpenApiExample(
                "6. Close it",
                {
                    "revision": 2,
                    "hours": "1210.5",
                    "lines": [
                        {"line": 102, "outcome": "done", "checks": [{"check": 12, "found": "7.5"}]},
                    ],
                    "parts": [{"part": 5, "quantity": "1"}],
                    "labour": [{"technician": 3, "minutes": 45}],
                },
                request_only=True,
            ),
        ],
    )
    def post(self, request: Request, pk: int) -> Response:
        """Close a started order, all at once or not at all; 422 names every missing or wrong entry.

        Where the order has moved on, 409 names in `differing` each entry that is recorded otherwise.
        """
        return self.moved(_close)


class AmendView(OrderMove):
    serializer_class = AmendSerializer

    @extend_schema(request=AmendSerializer, responses={200: OrderSerializer, **WHEN_MOVED})
    def post(self, request: Request, pk: int) -> Response:
        """Put a closed order right; what it said before is kept, and due points, stock and cost follow.

        Who plans orders may, and for 48 hours whoever closed it.
        """
        return self.moved(_amend)


class CorrectionsView(OrderRows):
    pagination_class = None

    @extend_schema(
        operation_id="orders_corrections_list",
        responses={200: CorrectionSerializer(many=True), **problems(404)},
    )
    def get(self, request: Request, pk: int) -> Response:
        """List what was corrected on a closed order, the earliest first, with what it said before."""
        return Response(CorrectionSerializer(workorders.corrections(self.get_object()), many=True).data)


class PhotosView(OrderRows):
    rights = {"POST": "work_orders"}
    parser_classes = [MultiPartParser]
    serializer_class = PhotoInSerializer

    @extend_schema(
        operation_id="orders_lines_photos_add",
        request={"multipart/form-data": PhotoInSerializer},
        responses={201: LinePhotoSerializer, **problems(404, 409, 415, 422, 507)},
    )
    def post(self, request: Request, pk: int, line: int) -> Response:
        """Keep a photo with a line; the same photo sent twice is kept once."""
        given = self.given()
        photo = workorders.add_photo(
            line=get_object_or_404(self.get_object().lines.all(), pk=line),
            member=member_of(request),
            **given,
        )
        return Response(LinePhotoSerializer(photo).data, status=status.HTTP_201_CREATED)


def _record(*, order: WorkOrder, member: Any, revision: int, **given: Any) -> WorkOrder:
    return workorders.record(order=order, member=member, revision=revision, entries=_entries(given))


def _close(
    *, order: WorkOrder, member: Any, revision: int, finished_seconds_ago: int, **given: Any
) -> WorkOrder:
    finished_at = timezone.now() - timedelta(seconds=finished_seconds_ago) if finished_seconds_ago else None
    entries = _entries({**given, "finished_at": finished_at})
    return workorders.close(order=order, member=member, revision=revision, entries=entries)


def _amend(*, order: WorkOrder, member: Any, revision: int, reason: str, **given: Any) -> WorkOrder:
    return workorders.amend(
        order=order, member=member, revision=revision, entries=_entries(given), reason=reason
    )


def _entries(given: dict[str, Any]) -> Entries:
    lines = [
        LineEntry(**{**line, "checks": [CheckEntry(**check) for check in line["checks"]]})
        for line in given.pop("lines")
    ]
    return Entries(
        lines=lines,
        parts=[PartEntry(**part) for part in given.pop("parts")],
        labour=[LabourEntry(**row) for row in given.pop("labour")],
        **given,
    )


def _legible(body: Any) -> list[LineEntry]:
    """Return what can be read of the checks in a body that can't be read as a whole."""

    def rows(of: Any, name: str) -> list[dict[str, Any]]:
        found = of.get(name) if isinstance(of, dict) else None
        return [row for row in found if isinstance(row, dict)] if isinstance(found, list) else []

    def text(row: dict[str, Any], name: str) -> str:
        value = row.get(name)
        return str(value) if isinstance(value, str | int | float) else ""

    return [
        LineEntry(
            read_whole(str(line.get("line"))) or 0,
            checks=[
                CheckEntry(
                    read_whole(str(row.get("check"))) or 0,
                    *(text(row, name) for name in ("found", "found_unit", "left", "left_unit")),
                )
                for row in rows(line, "checks")
            ],
        )
        for line in rows(body, "lines")
    ]


def _ids(path: tuple[str | int, ...]) -> dict[str, int]:
    """Return which line, check, part or technician a problem is about; the body may lack the entry."""
    return {
        KEYS[step]: following
        for step, following in pairwise(path)
        if step in KEYS and isinstance(following, int)
    }


def _pointer(path: tuple[str | int, ...], body: Any) -> str:
    """Return the JSON pointer to a problem's place in the body; to the list if the body lacks the entry."""
    pointer, inside = "#", body
    steps = iter(path)
    for step in steps:
        pointer += f"/{step}"
        inside = inside.get(step) if isinstance(inside, dict) else None
        if step in KEYS:
            wanted = next(steps)
            rows = inside if isinstance(inside, list) else []
            place = next((n for n, row in enumerate(rows) if row.get(KEYS[step]) == wanted), None)
            if place is None:
                return pointer
            pointer += f"/{place}"
            inside = rows[place]
    return pointer
