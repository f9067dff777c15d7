"""What lists of machines can be narrowed by."""

from typing import Any

import django_filters
from django import forms
from django.db.models import Q, QuerySet

from fleet.models import Machine, Yard
from fleet.models.machine import Category, MachineQuerySet
from fleet.web.guards import MemberRequest


def yards(request: MemberRequest | None) -> QuerySet[Yard]:
    """The yards that can be chosen: the organisation's."""
    return Yard.objects.filter(organisation=request.organisation) if request else Yard.objects.none()


class AheadFilter(django_filters.FilterSet):
    """By yard, kind of machine and a word of its tag, maker or model."""

    word = django_filters.CharFilter(
        method="with_word", label="Fleet number or model", widget=forms.TextInput(attrs={"type": "search"})
    )
    yard = django_filters.ModelChoiceFilter(queryset=yards, empty_label="Every yard")
    category = django_filters.ChoiceFilter(
        field_name="type__category", choices=Category.choices, empty_label="Every category", label="Category"
    )

    class Meta:
        model = Machine
        fields: list[str] = []

    def with_word(self, queryset: MachineQuerySet, name: str, value: str) -> MachineQuerySet:
        """Machines whose tag, serial number, maker or model holds the word."""
        return queryset.filter(
            Q(tag__icontains=value)
            | Q(serial__icontains=value)
            | Q(type__maker__icontains=value)
            | Q(type__model__icontains=value)
        )


class MachineFilter(AheadFilter):
    """The same, and by what a machine can be used for now.

    Retired machines are among what is listed for the state Retired and for a word, and nowhere else.
    """

    state = django_filters.ChoiceFilter(
        method="in_state", choices=Machine.State.choices, empty_label="Every state", label="State"
    )

    def filter_queryset(self, queryset: MachineQuerySet) -> MachineQuerySet:
        """Narrow the list, and leave retired machines out of it unless it may be they that are looked for."""
        asked = self.form.cleaned_data
        if not asked["word"] and asked["state"] != Machine.State.RETIRED:
            queryset = queryset.in_service()
        return super().filter_queryset(queryset)

    def in_state(self, queryset: MachineQuerySet, name: str, value: Any) -> MachineQuerySet:
        """Machines in that state; the gravest state of a machine counts."""
        return queryset.in_state(value)
