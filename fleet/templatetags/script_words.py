"""What the scripts of a page say, in the page's language."""

from functools import cache

from django import template
from django.conf import settings
from django.utils.html import json_script
from django.utils.translation import get_language
from django.utils.translation.trans_real import DjangoTranslation
from django.views.i18n import JavaScriptCatalog

from fleet.core.languages import ENGLISH

BLOCK = "catalogue"
"""The id of the block of data that hourmark/language.js reads."""
PERIOD = 100  # from so many on a number takes the form that its last two figures tell, in every language
register = template.Library()


@register.simple_tag
def script_words() -> str:
    """Return what the scripts say as a block of data; nothing for English, in which it is written there."""
    language = get_language() or ENGLISH
    return "" if language == ENGLISH else _block(language, *settings.LOCALE_PATHS)


@cache
def _block(language: str, *folders: str) -> str:
    """messages: by what each is in English; forms: which form each number takes, a figure each."""
    known = JavaScriptCatalog()
    known.translation = DjangoTranslation(language, domain="djangojs", localedirs=list(folders))
    forms = "".join(str(known.translation.plural(number)) for number in range(2 * PERIOD))
    return json_script({"messages": known.get_catalog(), "forms": forms}, BLOCK)
