"""Tables that people made who knew nothing of the reader: how many of their tasks are read right or asked."""

import pytest

from tests.servicing.planning.stranger_tables import ASKED, RIGHT, WRONG, cases, score

ALL = list(cases())
LEAST = 0.8
DISPUTED = {
    **dict.fromkeys(
        (
            "fresh/de_hoflader_buchstaben_zwei_kopfzeilen",
            "fresh/en_excavator_pdf_dots_shifted",
            "fresh/it_trattore_pallini_sezioni_note",
        ),
        "that the interval is halved in dust stands on the task in words",
    ),
    "judge/es_pdf_matriz_dos_paginas": "what its legend says, go to the dealer, stands in the title",
}
"""Cases in which a careful person could do what we do."""
WRONG_STILL = {
    "fresh/es_tractor_trabajo_e_intervalo_en_celda": "an act before storage, in one cell with it, is lost",
    "fresh/nl_verreiker_letters_legenda_onder": "a letter that no legend explains counts as due",
}
"""Cases that are read wrong without a word, and should not be."""


UNDISPUTED = [case for case in ALL if case[0] not in DISPUTED | WRONG_STILL]


@pytest.mark.parametrize(("name", "file", "expected"), UNDISPUTED, ids=[name for name, *_rest in UNDISPUTED])
def test_nothing_is_read_wrong_without_a_word(name, file, expected):
    scored = score(name, file, expected)
    wrong = [f"{each.title}: {each.why}" for each in scored.verdicts if each.said == WRONG]
    assert (wrong, scored.invented) == ([], [])


@pytest.mark.parametrize("name", WRONG_STILL)
def test_what_is_still_read_wrong_is_named_here_no_longer_than_it_is(name):
    case = next(case for case in ALL if case[0] == name)
    assert [each for each in score(*case).verdicts if each.said == WRONG]


def test_four_tasks_in_five_are_right_or_asked():
    verdicts = [verdict for case in ALL for verdict in score(*case).verdicts]
    good = sum(verdict.said in (RIGHT, ASKED) for verdict in verdicts)
    assert good >= LEAST * len(verdicts)
