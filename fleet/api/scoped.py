"""Views over rows of the caller's organisation: whatever an id names elsewhere is not found."""

from collections.abc import Collection, Mapping
from typing import Any, cast

from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django_scopes import scopes_disabled
from rest_framework.exceptions import MethodNotAllowed, ValidationError
from rest_framework.generics import GenericAPIView, get_object_or_404
from rest_framework.mixins import ListModelMixin
from rest_framework.permissions import SAFE_METHODS
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import Serializer

from fleet.api.caller import organisation_of
from fleet.api.filters import Filters, refuse_unknown
from fleet.core.errors import FleetError


class ScopedView(GenericAPIView):
    """A generic view over `model`; say in `rows` which of the organisation's rows, and with what joined."""

    model: Any
    parameters: Collection[str] = ()  # query parameters that no filter reads
    _sent_as: Mapping[str | None, str] = {}  # the names in the body, by those in the code

    def rows(self, own: Any) -> QuerySet:
        """Narrow, order and join the organisation's rows."""
        return own

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Refuse a reader's filters that aren't known: passed over, they would show what wasn't asked for."""
        super().initial(request, *args, **kwargs)
        if request.method in SAFE_METHODS:
            known, many = self._parameters()
            refuse_unknown(request, known, many=many)

    def _parameters(self) -> tuple[set[str], set[str]]:
        """The query parameters there are, and those of them that may be given more than once."""
        filters: type[Filters] | None = getattr(self, "filterset_class", None)
        known = {*self.parameters, *(filters.names() if filters else ())}
        if isinstance(self, ListModelMixin) and self.pagination_class:
            known |= {"page", "page_size"}
        return known, filters.repeated() if filters else set()

    def check_permissions(self, request: Request) -> None:
        """Say 405 for what the view can't do at all, before asking whether the caller may do it."""
        if request.method not in self.allowed_methods:
            raise MethodNotAllowed(request.method or "")
        super().check_permissions(request)

    def get_queryset(self) -> QuerySet:
        if getattr(self, "swagger_fake_view", False):
            with scopes_disabled():  # the OpenAPI document is drawn without any organisation
                return self.model.objects.none()
        return self.rows(self.own(self.model))

    def given(self, serializer: type[Serializer] | None = None, *, partial: bool = False) -> dict[str, Any]:
        """What was sent, read by the view's serializer or by the one named. Raises ValidationError.

        partial: what is left out is no error, and not in what is returned.
        """
        reads = cast(type[Serializer], serializer or self.get_serializer_class())
        sent = reads(data=self.request.data, partial=partial)
        sent.is_valid(raise_exception=True)
        self._sent_as = {field.source: name for name, field in sent.fields.items()}
        return dict(sent.validated_data)

    def handle_exception(self, exc: Exception) -> Response:
        """Point to what a process refuses by the name under which it was sent."""
        if isinstance(exc, FleetError) and exc.field:
            exc.field = self._sent_as.get(exc.field, exc.field)
        return super().handle_exception(exc)

    def own(self, model: Any) -> Any:
        """All rows of a model that the caller's organisation owns."""
        return model.objects.filter(organisation=organisation_of(self.request))

    def one(self, model: Any, pk: int) -> Any:
        """The organisation's row with that id; Http404 for a stranger's."""
        return get_object_or_404(self.own(model), pk=pk)

    def found(self, model: Any, name: str, ids: list[int]) -> list[Any]:
        """The organisation's rows with these ids; an error at the field if one is missing."""
        rows = self.own(model).in_bulk(ids)
        missing = [str(pk) for pk in ids if pk not in rows]
        if missing:
            sentence = _("There is nothing here with the id {ids}.").format(ids=", ".join(missing))
            raise ValidationError({name: sentence})
        return [rows[pk] for pk in ids]
