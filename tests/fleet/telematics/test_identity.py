"""Whether a unit's facts agree with a record: makers, models and numbers as people and programs write them.

What is written here comes from the habits named in each row, common practice, no source.
"""

import pytest

from fleet.core.squeezed import number
from fleet.telematics.identity import Numbers, Record, changes, compare, identifies
from fleet.telematics.names_alike import makers_differ, models_differ
from fleet.telematics.near_misses import NearMisses

T04 = Record(4, "T-04", "Brava", "B 48", "TB-00471", "BRVB48XCLTB000471")
BARE = Record(5, "T-05", "Brava", "B 48", "TB-00523", "")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("TB-00471", "tb 00471"),
        ("00471", "471"),
        ("GF30/0071", "gf30 0071"),
        ("*A1*", "A-1"),
        ("Tb‑1", "TB1"),
    ],
)
def test_one_number_in_two_spellings(one, other):
    assert number(one) == number(other) != ""


@pytest.mark.parametrize(
    "text",
    ["", "0", "0000", "-", "--", "n/a", "N.A.", "none", "Unknown", "xxx", "9999", "123456789", "S/N", "?"],
)
def test_what_stands_for_no_number_identifies_nothing(text):
    assert identifies(text) == ""


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Brava", "BRAVA GmbH & Co. KG"),
        ("Brava", "Brava S.p.A."),
        ("Grünfels", "GRUENFELS"),
        ("Brava", "BRV"),
        ("Brava Machinery", "BM"),
        ("Brava", "Bravva"),
        ("Brava", "unknown"),
        ("", "Brava"),
    ],
)
def test_makers_that_may_be_one(one, other):
    assert not makers_differ(one, other)
    assert not makers_differ(other, one)


@pytest.mark.parametrize(
    ("one", "other"), [("Brava", "Kelvarn"), ("Tarn", "Torn"), ("Nakurei Heavy", "Pellorin")]
)
def test_makers_that_are_two(one, other):
    assert makers_differ(one, other)
    assert makers_differ(other, one)


@pytest.mark.parametrize(
    ("one", "other", "differ"),
    [
        ("B 48", "b-48", False),
        ("B48", "Brava B 48 T4", False),
        ("VD2200", "VD 2200", False),
        ("B 48", "unknown", False),
        ("B 48", "", False),
        ("B 4", "B 48", True),
        ("B 48", "B 60", True),
        ("Fork 500", "PR 30", True),
    ],
)
def test_models(one, other, differ):
    assert models_differ(one, other) is differ
    assert models_differ(other, one) is differ


@pytest.mark.parametrize(
    ("facts", "agree", "against"),
    [
        ({"serial": "tb00471"}, ["serial"], []),
        ({"serial": "BRVB48XCLTB000471"}, ["serial"], []),  # a PIN in the place of the serial number
        ({"pin": "TB-00471"}, ["pin"], []),
        ({"pin": "BRVB48XCLTB000471", "serial": "TB-00523"}, ["pin"], ["serial"]),
        ({"serial": "TB-00471", "maker": "Kelvarn"}, ["serial"], ["maker"]),
        ({"serial": "TB-00471", "maker": "unknown", "model": "missing"}, ["serial"], []),
        ({"equipment_id": "t04"}, ["equipment_id"], []),
        ({"equipment_id": "Bagger Nord", "serial": "TB-00471"}, ["serial"], []),
        ({"equipment_id": "T-04", "serial": "XX-9"}, ["equipment_id"], ["serial"]),
        ({"serial": "TB-471"}, [], ["serial"]),  # zeros within: with maker and model alone
        ({"serial": "TB-471", "maker": "Brava", "model": "B48"}, ["serial"], []),
        ({"serial": "0", "pin": "--", "equipment_id": "n/a"}, [], []),
    ],
)
def test_all_facts_are_compared_together(facts, agree, against):
    compared = compare(Numbers(**facts), T04)
    assert (compared.agree, compared.against) == (agree, against)


def test_a_number_that_is_left_out_has_not_changed():
    before = Numbers(serial="TB-00471", equipment_id="17", maker="Brava")
    assert changes(before, Numbers(serial="tb 00471", equipment_id="")) == []
    assert changes(before, Numbers(serial="TB-00523", equipment_id="18", maker="Kelvarn")) == [
        "serial",
        "equipment_id",
        "maker",
    ]


@pytest.mark.parametrize(
    ("facts", "found"),
    [
        ({"serial": "TB-00477"}, ["T-04"]),  # a figure wrong
        ({"serial": "TB-00417"}, ["T-04"]),  # two swapped
        ({"serial": "TB-0471"}, ["T-04"]),  # one left out
        ({"serial": "TB-OO471"}, ["T-04"]),  # letters for figures
        ({"serial": "471"}, ["T-04"]),
        ({"pin": "BRVB48XCLTB000472"}, ["T-04"]),
        ({"pin": "AAAB48XXXTB-00523"}, ["T-05"]),  # it ends with the serial number
        ({"equipment_id": "T-4"}, ["T-04"]),
        ({"serial": "TB-00477", "maker": "Kelvarn"}, []),
        ({"serial": "QX-98812"}, []),
        ({"serial": "12"}, []),
    ],
)
def test_near_misses_are_found(facts, found):
    misses = NearMisses([T04, BARE]).of(Numbers(**facts))
    assert [miss.machine.tag for miss in misses] == found
