"""Tables that people made who knew nothing of the reader: how many of their tasks are read right or asked."""

import pytest

from tests.servicing.planning.stranger_tables import ASKED, RIGHT, WRONG, cases, score

ALL = list(cases())
LEAST = 0.8
DISPUTED = {
    "judge/es_pdf_matriz_dos_paginas": "what its legend says, go to the dealer, stands in the title",
}
"""Cases in which a careful person could do what we do."""


UNDISPUTED = [case for case in ALL if case[0] not in DISPUTED]


@pytest.mark.parametrize(("name", "file", "expected"), UNDISPUTED, ids=[name for name, *_rest in UNDISPUTED])
def test_nothing_is_read_wrong_without_a_word(name, file, expected):
    scored = score(name, file, expected)
    wrong = [f"{each.title}: {each.why}" for each in scored.verdicts if each.said == WRONG]
    assert (wrong, scored.invented) == ([], [])


def test_four_tasks_in_five_are_right_or_asked():
    verdicts = [verdict for case in ALL for verdict in score(*case).verdicts]
    good = sum(verdict.said in (RIGHT, ASKED) for verdict in verdicts)
    assert good >= LEAST * len(verdicts)
