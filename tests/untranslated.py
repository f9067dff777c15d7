"""Finds words on a page that its language lacks: messages that were looked up and came back as they were."""

from collections.abc import Iterator
from contextlib import contextmanager
from unittest import mock

from django.utils import translation

from tests.unmarked import WORD

SAME_IN_GERMAN = {"Hash", "Name", "Text", "Token", "Code"}


@contextmanager
def untranslated_messages() -> Iterator[set[str]]:
    """Collect the messages that are asked for, ours and the framework's, and have no translation."""
    trans = vars(translation)["_trans"]
    gettext, ngettext, pgettext, npgettext = trans.gettext, trans.ngettext, trans.pgettext, trans.npgettext
    found: set[str] = set()

    def heard(said: str, *messages: str) -> str:
        if said in messages and WORD.search(said) and said.capitalize() not in SAME_IN_GERMAN:
            found.add(said)
        return said

    with (
        mock.patch.object(trans, "gettext", lambda one: heard(gettext(one), one)),
        mock.patch.object(trans, "ngettext", lambda one, many, n: heard(ngettext(one, many, n), one, many)),
        mock.patch.object(trans, "pgettext", lambda where, one: heard(pgettext(where, one), one)),
        mock.patch.object(
            trans,
            "npgettext",
            lambda where, one, many, n: heard(npgettext(where, one, many, n), one, many),
        ),
    ):
        yield found
