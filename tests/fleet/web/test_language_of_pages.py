"""The frame of a page says in which language and with which decimal mark it is written."""

import pytest
from django.contrib.auth.models import AnonymousUser
from django.template.loader import get_template, render_to_string
from django.test import RequestFactory
from django.utils import translation

from fleet.core.wording import in_a_sentence
from fleet.models import Machine
from fleet.usage.figures import COMMA, POINT, Writing, how_many, written


def page(name, language, mark=POINT):
    request = RequestFactory().get("/")
    request.member, request.user = None, AnonymousUser()
    with translation.override(language), written(Writing(mark)):
        return render_to_string(name, request=request)


@pytest.mark.parametrize("name", ["404.html", "print.html", "admin/base.html"])
@pytest.mark.parametrize(("language", "said"), [("en-gb", "en"), ("de", "de")])
def test_a_page_names_its_language(name, language, said):
    assert f'<html lang="{said}">' in page(name, language)


def test_a_page_names_the_decimal_mark_where_it_is_a_comma():
    assert '<html lang="de" data-decimal=",">' in page("404.html", "de", COMMA)
    assert "data-decimal" not in page("404.html", "en-gb")


def test_the_page_that_stands_alone_needs_no_context():
    with translation.override("en-gb"):
        shown = get_template("500.html").render()
    assert '<html lang="en">' in shown
    assert "<h1>Something went wrong on our side</h1>" in shown


def test_thousands_are_parted_by_what_marks_no_decimals():
    assert how_many(1024) == "1,024"
    with written(Writing(COMMA)):
        assert how_many(1024) == "1\u202f024"


def test_a_label_is_small_in_an_english_sentence_alone():
    label = Machine.State.TAGGED_OUT.label
    assert in_a_sentence(label) == "tagged out"
    with translation.override("de"):
        assert in_a_sentence("Wartet auf Sie") == "Wartet auf Sie"
