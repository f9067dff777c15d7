"""The picture of the accuracy page."""

from math import nan

import pytest

from servicing.web.charts.reliability_chart import BOTTOM, TOP, reliability_chart


def test_each_day_has_its_share_and_its_aim():
    made = reliability_chart([0.1, 0.5, 0.9], [0.0, 0.52, 1.0])
    assert [(day.name, day.aim, day.share) for day in made.days] == [
        ("early", 10, 0), ("likely", 50, 52), ("late", 90, 100),
    ]  # fmt: skip
    assert [day.x for day in made.days] == [10, 50, 90]
    assert [made.days[0].y, made.days[2].y] == [BOTTOM, TOP]


@pytest.mark.parametrize("came", [[nan, nan, nan], [nan, 0.5, nan]])
def test_a_day_without_outcomes_is_left_out(came):
    assert [day.name for day in reliability_chart([0.1, 0.5, 0.9], came).days] == [
        name for name, share in zip(("early", "likely", "late"), came, strict=True) if share == share
    ]
