"""Tables that people made who knew nothing of the reader: how many of their tasks are read right or asked."""

import pytest

from tests.servicing.planning.stranger_tables import ASKED, RIGHT, WRONG, cases, score

ALL = list(cases())
LEAST = 0.8


@pytest.mark.parametrize(("name", "file", "expected"), ALL, ids=[name for name, *_rest in ALL])
def test_nothing_is_read_wrong_without_a_word(name, file, expected):
    scored = score(name, file, expected)
    wrong = [f"{each.title}: {each.why}" for each in scored.verdicts if each.said == WRONG]
    assert (wrong, scored.invented) == ([], [])


def test_four_tasks_in_five_are_right_or_asked():
    verdicts = [verdict for case in ALL for verdict in score(*case).verdicts]
    good = sum(verdict.said in (RIGHT, ASKED) for verdict in verdicts)
    assert good >= LEAST * len(verdicts)
