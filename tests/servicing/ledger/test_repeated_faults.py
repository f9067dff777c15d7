"""Which reports are taken for the same fault. The rule is ours; the examples say what it does."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicing.ledger.repeated_faults import alike, gather

HOSE = "Hydraulic hose at the boom weeps; wiped dry, wet again by noon"


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        (HOSE, "Boom hose weeps again", True),
        (HOSE, "hydraulic hoses wet", True),
        (HOSE, "Boom pin has play", False),  # one word shared
        ("Left work light broken", "Work lights: left one broken", True),
        ("Left work light broken", "Seat belt does not latch", False),
        ("Horn silent", "Horn is silent!", True),
        ("Horn", "horn", True),
        ("Horn", "Horn bracket loose", False),  # one word is too little
        ("12 V", "12 V", False),  # no words at all
    ],
)
def test_pairs(one, other, same):
    assert alike(one, other) is same
    assert alike(other, one) is same


def test_groups_join_through_one_between():
    texts = ["oil leak front axle", "wet ground", "leak at axle seal", "axle seal torn"]
    assert gather(texts) == [[0, 2, 3], [1]]


@given(
    st.lists(
        st.sampled_from(["oil leak axle", "axle leak", "horn silent", "silent horn relay", "?"]), max_size=8
    )
)
def test_every_report_is_in_one_group(texts):
    groups = gather(texts)
    assert sorted(place for group in groups for place in group) == list(range(len(texts)))
