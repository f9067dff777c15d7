"""What lists of machines can be narrowed by."""

from typing import Any

import django_filters
from django import forms
from django.db.models import F, QuerySet
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from fleet.models import Machine, Yard
from fleet.models.machine import LONGEST_SEARCH, Category, MachineQuerySet
from fleet.web.forms.house import Form
from fleet.web.guards import MemberRequest


def yards(request: MemberRequest | None) -> QuerySet[Yard]:
    """The yards that can be chosen: the organisation's."""
    return Yard.objects.filter(organisation=request.organisation) if request else Yard.objects.none()


class AheadFilter(django_filters.FilterSet):
    """By yard, category, and whatever a person types to find a machine."""

    word = django_filters.CharFilter(
        method="with_word",
        label=_("Search"),
        max_length=LONGEST_SEARCH,
        widget=forms.TextInput(attrs={"type": "search"}),
    )
    yard = django_filters.ModelChoiceFilter(queryset=yards, empty_label=_("Every yard"), label=_("Yard"))
    category = django_filters.ChoiceFilter(
        field_name="type__category",
        choices=Category.choices,
        empty_label=_("Every category"),
        label=_("Category"),
    )

    class Meta:
        model = Machine
        form = Form
        fields: list[str] = []

    @property
    def is_narrowed(self) -> bool:
        """Whether more is asked than a search."""
        return bool(set(self.form.changed_data) - {"word"})

    def with_word(self, queryset: MachineQuerySet, name: str, value: str) -> MachineQuerySet:
        """Machines that what was typed may mean."""
        return queryset.searched(value)


MOST_URGENT = ("urgency", F("next_likely").asc(nulls_last=True), "tag")


class MachineFilter(AheadFilter):
    """The same, and by what a machine can be used for now; in the order that is asked for.

    Retired machines are among what is listed for the state Retired and for a word, and nowhere else.
    """

    state = django_filters.ChoiceFilter(
        method="in_state",
        choices=Machine.State.choices,
        empty_label=_("Every state"),
        label=pgettext_lazy("of a list", "State"),
    )
    sort = django_filters.ChoiceFilter(
        method="in_order",
        choices=[("tag", _("Fleet number")), ("hours", _("Most hours"))],
        empty_label=_("Most urgent first"),
        label=pgettext_lazy("of a list", "Order"),
    )

    def filter_queryset(self, queryset: MachineQuerySet) -> MachineQuerySet:
        """Narrow the list, and leave retired machines out of it unless it may be they that are looked for."""
        asked = self.form.cleaned_data
        if not asked.get("word") and asked.get("state") != Machine.State.RETIRED:
            queryset = queryset.in_service()
        return super().filter_queryset(queryset)

    def in_state(self, queryset: MachineQuerySet, name: str, value: Any) -> MachineQuerySet:
        """Machines in that state; the gravest state of a machine counts."""
        return queryset.in_state(value)

    def in_order(self, queryset: MachineQuerySet, name: str, value: str) -> MachineQuerySet:
        """The list in another order than by urgency."""
        return queryset.order_by("tag") if value == "tag" else queryset.order_by("-hours", "tag")
