"""Files as strangers write them come in right, or are asked about; nothing wrong counts without a word."""

from collections import Counter

import pytest

from tests.fleet.imports.stranger_cases import ANSWERED, ASKED, RIGHT, WRONG, cases, score, table

pytestmark = pytest.mark.usefixtures("kept_apart")
CASES = list(cases())
ENOUGH = 0.9  # of the rows of all cases


@pytest.fixture(scope="module")
def scores():
    """What came of each case so far."""
    return []


@pytest.mark.parametrize(("name", "path", "case"), CASES, ids=[name for name, *_rest in CASES])
def test_nothing_wrong_is_counted(in_farm, scores, name, path, case):
    found = score(in_farm, name, path, case)
    scores.append(found)
    assert not found.faults, "\n".join(found.faults)


def test_nine_of_ten_rows_come_in_right_or_are_asked_about(scores):
    total = sum((found.rows for found in scores), Counter())
    assert not total[WRONG], table(scores)
    if scores:
        assert total[RIGHT] + total[ANSWERED] + total[ASKED] >= ENOUGH * total.total(), table(scores)
