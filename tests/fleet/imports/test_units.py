"""A column of units: which it is, and what its words say."""

import pytest

from fleet.imports.columns import Column
from fleet.imports.units import is_other, unit_column


@pytest.mark.parametrize(
    ("cells", "found"),
    [
        (["h", "km", "H"], 1),
        (["Std.", "Std."], 1),
        (["h", "replaced"], None),
        ([], None),
        (["1204", "h"], None),
    ],
)
def test_it_holds_units_alone(cells, found):
    assert unit_column([Column(0, "Machine", ["T-1"] * len(cells)), Column(1, "", cells)]) == found


def test_two_of_them_tell_nothing():
    assert unit_column([Column(0, "", ["h"]), Column(1, "", ["l"])]) is None


@pytest.mark.parametrize(
    ("cell", "other"), [("h", False), ("", False), (None, False), ("KM", True), ("x", True)]
)
def test_what_is_no_hours_counts_for_none(cell, other):
    assert is_other(cell) is other
