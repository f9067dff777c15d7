"""A request may say a thing as the version before called it; never both ways at once."""

import django_filters
import pytest
from django.http import QueryDict
from rest_framework import serializers

from fleet.api.former_names import FormerFields, FormerFilters
from fleet.api.serializers import KnownFieldsSerializer
from fleet.models import Machine


class Typed(FormerFields, KnownFieldsSerializer):
    former = {"shows": "meter"}
    meter = serializers.DecimalField(9, 2)


def read(body):
    typed = Typed(data=body)
    typed.is_valid()
    return {name: str(value) for name, value in typed.validated_data.items()}, typed.errors


@pytest.mark.parametrize("name", ["meter", "shows"])
def test_both_names_are_read(name):
    assert read({name: "12.5"}) == ({"meter": "12.50"}, {})


def test_both_at_once_are_refused_at_the_former_name():
    given, errors = read({"meter": "1", "shows": "1"})
    assert given == {}
    assert list(errors) == ["shows"]
    assert "`meter`" in errors["shows"][0]


def test_a_wrong_value_under_a_former_name_is_refused_under_the_new_one():
    assert list(read({"shows": "many"})[1]) == ["meter"]


@pytest.mark.parametrize("body", [None, [], "shows", 7])
def test_no_mapping_is_refused_as_before(body):
    assert list(read(body)[1]) == ["non_field_errors"]


class Asked(FormerFilters):
    former = {"past": "overdue"}
    former_values = {"state": {"parked": "on hold"}, "ordering": {"mark": "due"}}
    overdue = django_filters.BooleanFilter()
    state = django_filters.MultipleChoiceFilter(choices=[("on hold", ""), ("closed", "")])
    ordering = django_filters.OrderingFilter(fields=["due", "tag"])


def asked(query):
    return Asked(QueryDict(query), queryset=Machine.objects.none()).form


@pytest.mark.parametrize("query", ["overdue=true", "past=true"])
def test_both_names_of_a_parameter_are_read(query):
    form = asked(query)
    assert form.is_valid()
    assert form.cleaned_data["overdue"] is True


@pytest.mark.parametrize("states", ["state=parked&state=closed", "state=on+hold&state=closed"])
def test_both_values_of_a_parameter_are_read(states):
    form = asked(states)
    assert form.is_valid()
    assert form.cleaned_data["state"] == ["on hold", "closed"]


@pytest.mark.parametrize("order", ["-mark,tag", "-due,tag"])
def test_both_names_in_an_ordering_are_read(order):
    form = asked(f"ordering={order}")
    assert form.is_valid()
    assert form.cleaned_data["ordering"] == ["-due", "tag"]


def test_both_names_of_a_parameter_at_once_are_refused():
    with pytest.raises(serializers.ValidationError) as refused:
        asked("past=true&overdue=true")
    assert list(refused.value.detail) == ["past"]


def test_a_value_that_never_was_is_refused():
    assert not asked("state=mislaid").is_valid()
