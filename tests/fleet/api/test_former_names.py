"""A request may say a thing as the version before called it; never both ways at once."""

import pytest
from rest_framework import serializers

from fleet.api.former_names import FormerChoiceField, FormerFields
from fleet.api.known_fields import KnownFieldsSerializer


class Typed(FormerFields, KnownFieldsSerializer):
    former = {"shows": "meter"}
    meter = serializers.DecimalField(9, 2)
    state = FormerChoiceField(["discarded", "held"], former={"struck": "discarded"}, required=False)


def read(body):
    typed = Typed(data=body)
    typed.is_valid()
    return {name: str(value) for name, value in typed.validated_data.items()}, typed.errors


@pytest.mark.parametrize("name", ["meter", "shows"])
def test_both_names_are_read(name):
    assert read({name: "12.5"}) == ({"meter": "12.50"}, {})


@pytest.mark.parametrize("state", ["struck", "discarded"])
def test_both_values_are_read(state):
    assert read({"meter": "1", "state": state})[0]["state"] == "discarded"


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


@pytest.mark.parametrize("state", [["struck"], {"struck": 1}, None, 3, "mislaid"])
def test_no_choice_is_refused(state):
    assert list(read({"meter": "1", "state": state})[1]) == ["state"]
