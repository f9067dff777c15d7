"""A field that isn't known is refused with its place, beside whatever else is wrong."""

import pytest
from rest_framework import serializers

from fleet.api.serializers import NO_SUCH_FIELD, KnownFieldsSerializer


class Wheel(KnownFieldsSerializer):
    pressure = serializers.IntegerField()


class Cart(KnownFieldsSerializer):
    name = serializers.CharField()
    wheels = Wheel(many=True, required=False)


@pytest.mark.parametrize(
    ("sent", "refused"),
    [
        ({"name": "A"}, {}),
        ({"name": "A", "nmae": "B"}, {"nmae": [NO_SUCH_FIELD]}),
        ({"nmae": "B"}, {"nmae": [NO_SUCH_FIELD], "name": ["This field is required."]}),
        (
            {"name": "A", "wheels": [{"pressure": 1}, {"pressure": 1, "bar": 2}]},
            {"wheels": {1: {"bar": [NO_SUCH_FIELD]}}},
        ),
        (
            {"name": "A", "wheel": [], "wheels": [{"bar": "x", "pressure": "x"}]},
            {
                "wheel": [NO_SUCH_FIELD],
                "wheels": {0: {"bar": [NO_SUCH_FIELD], "pressure": ["A valid integer is required."]}},
            },
        ),
    ],
)
def test_nothing_is_passed_over(sent, refused):
    cart = Cart(data=sent)
    assert cart.is_valid() == (not refused)
    assert cart.errors == refused


def test_an_order_is_not_made_without_what_was_sent_under_another_name(farm):
    answer = farm.client("manager").post(
        "/api/v1/orders", {"machine": 1, "defect": [7], "tasks_due": ["x"]}, content_type="application/json"
    )
    assert answer.status_code == 400
    pointers = {error["pointer"]: error["detail"] for error in answer.json()["errors"]}
    assert pointers["#/defect"] == NO_SUCH_FIELD
    assert "#/tasks_due/0" in pointers
