"""In which language, and in which way of writing, a person is spoken to."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Warning
from django.http import HttpRequest
from django.utils import translation
from django.utils.translation import gettext_lazy as _

from fleet.usage.figures import COMMA, DAY_FIRST, ISO, MONTH_FIRST, POINT, Writing, written

ENGLISH, GERMAN = "en-gb", "de"
LANGUAGES = tuple(settings.LANGUAGES)
"""Each by the name its speakers give it."""
COMMA_LANGUAGES = (GERMAN,)
DECIMAL_MARKS = ((POINT, _("Point: 1 204.5")), (COMMA, _("Comma: 1 204,5")))
DAYS = (
    (DAY_FIRST, _("Day first: 3 May 2026")),
    (MONTH_FIRST, _("Month first: May 3, 2026")),
    (ISO, _("ISO 8601: 2026-05-03")),
)
DOMAINS = ("django", "djangojs")


def spoken() -> list[tuple[str, str]]:
    """Return the languages that can be chosen: English, and those whose catalogue is compiled."""
    return [(code, name) for code, name in LANGUAGES if _is_compiled(code, *settings.LOCALE_PATHS)]


def missing() -> list[str]:
    """Return the names of the languages whose catalogue was not compiled."""
    return [name for code, name in LANGUAGES if not _is_compiled(code, *settings.LOCALE_PATHS)]


@cache
def _is_compiled(code: str, *folders: str) -> bool:
    files = [Path(folder, code, "LC_MESSAGES", f"{domain}.mo") for folder in folders for domain in DOMAINS]
    return code == ENGLISH or all(file.exists() for file in files)


def way_of_writing(language: str, person: Any = None) -> Writing:
    """Return how a person (a User, or None) writes figures and days: as chosen, else as the language does."""
    mark = COMMA if language in COMMA_LANGUAGES else POINT
    if person is None:
        return Writing(mark)
    return Writing(person.decimal_mark or mark, person.days_written or DAY_FIRST)


def asked_for(request: HttpRequest) -> str:
    """Return the language that a browser asks for, if it can be had; else the installation's own."""
    asked = translation.get_language_from_request(request)
    return asked if asked in dict(spoken()) else settings.LANGUAGE_CODE


@contextmanager
def spoken_to(person: Any, otherwise: str = "") -> Iterator[None]:
    """Speak to a person, a User or None, for a while.

    otherwise: the language for who chose none; without it the installation's own.
    """
    chosen = person.language if person and person.language in dict(spoken()) else ""
    language = chosen or otherwise or settings.LANGUAGE_CODE
    with translation.override(language), written(way_of_writing(language, person)):
        yield


def check_catalogues(**_kwargs: Any) -> list[CheckMessage]:
    """Say which catalogues were not compiled: one of Django's system checks."""
    kept_back = missing()
    if not kept_back:
        return []
    own = dict(LANGUAGES)[settings.LANGUAGE_CODE] in kept_back
    said = f"Not compiled, so nobody can choose it: {', '.join(kept_back)}."
    hint = "Run: pybabel compile --directory config/locale --domain 'django djangojs'"
    return [(Error if own else Warning)(said, hint=hint, id="fleet.catalogues")]
