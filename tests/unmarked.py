"""Finds words on a page that no translator would ever see.

While `marked_messages` is in force each message stands between ⟦ and ⟧, with what was filled in.
Words of a page that stand outside were written by a person, or nobody marked them.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from html.parser import HTMLParser
from unittest import mock
from zoneinfo import available_timezones

from django.apps import apps
from django.db import models
from django.forms.formsets import ManagementForm
from django.utils import translation

from servicing.measurements.limits import KINDS
from servicing.programs.file_format.kinds import NEVER_CONVERTED

OPENS, CLOSES = "⟦", "⟧"
READ_ALOUD = ("title", "aria-label", "placeholder", "alt", "data-label", "content")
WORD = re.compile(r"[^\W\d_]{2,}")
ADDRESS = re.compile(r"\S+@\S+|https?://\S+|\b[a-z]+-[a-z0-9-]+\b|\S*/\S*")
NOT_READ = {"script", "style", "code", "pre", "svg:style"}
VOID = {"area", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "wbr"}
SAME_EVERYWHERE = (
    "Hourmark English Deutsch JSON PDF UTC Letter min kg cm mm mL gal ft lbf kPa psi kWh Revision"
)
"""Names, units, and what isn't for people."""


@contextmanager
def marked_messages() -> Iterator[None]:
    """Put every message between marks, ours and the framework's."""
    trans = vars(translation)["_trans"]
    gettext, ngettext, pgettext, npgettext = trans.gettext, trans.ngettext, trans.pgettext, trans.npgettext

    with (
        mock.patch.object(trans, "gettext", lambda one: _marked(gettext(one))),
        mock.patch.object(trans, "ngettext", lambda one, many, n: _marked(ngettext(one, many, n))),
        mock.patch.object(trans, "pgettext", lambda where, one: _marked(pgettext(where, one))),
        mock.patch.object(
            trans, "npgettext", lambda where, one, many, n: _marked(npgettext(where, one, many, n))
        ),
    ):
        yield


def _marked(said: str) -> str:
    return f"{OPENS}{said}{CLOSES}" if said else said


def words_of_people() -> set[str]:
    """Return every word that stands in the tables."""
    of_sets = " ".join(name.replace("_", " ").capitalize() for name in ManagementForm.base_fields)
    found = {*SAME_EVERYWHERE.split(), *WORD.findall(of_sets)}
    units = [*NEVER_CONVERTED, *(unit for kind in KINDS for unit in kind)]
    found.update(WORD.findall(" ".join(units)))
    found.update(WORD.findall(" ".join(available_timezones())))
    for model in apps.get_models():
        texts = [
            field.attname
            for field in model._meta.concrete_fields
            if isinstance(field, models.CharField | models.TextField | models.JSONField) and not field.choices
        ]
        for row in model._base_manager.values_list(*texts) if texts else []:
            for value in row:
                found.update(WORD.findall(str(value or "")))
    return found


def unmarked(page: str, known: set[str]) -> list[str]:
    """Return the pieces of a page with words that are neither marked nor known, in their order."""
    reader = _Reader()
    reader.feed(page)
    return [piece for piece in reader.outside() if set(WORD.findall(ADDRESS.sub(" ", piece))) - known]


class _Reader(HTMLParser):
    """Collects what people read on a page: texts, and what is read aloud."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.hidden: list[str] = []  # open elements whose inside isn't looked at

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if self.hidden or tag in NOT_READ or (given.get("lang") == "en" and tag != "html"):
            if tag not in VOID:
                self.hidden.append(tag)
            return
        named = tag == "meta" and given.get("name") == "description"
        self.texts += [
            value for name, value in attrs if value and name in READ_ALOUD and (name != "content" or named)
        ]

    def handle_endtag(self, tag: str) -> None:
        if self.hidden and tag in self.hidden:
            while self.hidden.pop() != tag:
                pass

    def handle_data(self, data: str) -> None:
        if not self.hidden:
            self.texts.append(data)

    def outside(self) -> Iterator[str]:
        """Yield what stands outside of marks; a message may reach over several elements."""
        depth = 0
        for text in self.texts:
            piece = ""
            for letter in text:
                depth += (letter == OPENS) - (letter == CLOSES)
                piece += letter if depth == 0 and letter != CLOSES else " "
            if piece.strip():
                yield " ".join(piece.split())
