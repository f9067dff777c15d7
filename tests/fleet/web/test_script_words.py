"""What the scripts of a page say, in the page's language."""

import json
import re

import pytest
from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from django.template import engines
from django.utils import translation

BLOCK = re.compile(r'<script id="catalogue" type="application/json">(.*)</script>')


@pytest.fixture
def german(tmp_path, settings):
    """A few messages of scripts in German, compiled."""
    catalogue = Catalog(locale="de", domain="djangojs")
    catalogue.add("Sent.", "Gesendet.")
    catalogue.add("</script> & more", "</script> & mehr")
    catalogue.add(("{n} entry", "{n} entries"), ("{n} Eintrag", "{n} Einträge"))
    folder = tmp_path / "de" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    with (folder / "djangojs.mo").open("wb") as file:
        write_mo(file, catalogue)
    settings.LOCALE_PATHS = [tmp_path]


def block() -> str:
    return engines["django"].from_string("{% load script_words %}{% script_words %}").render()


@pytest.mark.pure
def test_each_message_comes_with_the_page_and_which_form_a_number_takes(german):
    with translation.override("de"):
        told = json.loads(BLOCK.fullmatch(block())[1])
    assert told["messages"] == {
        "Sent.": "Gesendet.",
        "</script> & more": "</script> & mehr",
        "{n} entry": ["{n} Eintrag", "{n} Einträge"],
    }
    assert (len(told["forms"]), told["forms"][:4], told["forms"][101]) == (200, "1011", "1")


@pytest.mark.pure
def test_no_message_ends_the_block(german):
    with translation.override("de"):
        assert block().count("</script>") == 1


@pytest.mark.pure
@pytest.mark.parametrize("language", ["en-gb", None])
def test_an_english_page_carries_nothing(german, language):
    with translation.override(language):
        assert block() == ""


def test_the_block_stands_before_every_script(client, db, settings):
    """A module reads it when it is loaded."""
    html = client.get("/sign-in/").content.decode()
    assert 'id="catalogue"' not in html
    source = (settings.BASE_DIR / "templates" / "base.html").read_text()
    assert source.index("{% script_words %}") < source.index("<script")
