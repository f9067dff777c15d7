"""A search on a page: what is too long or can't be kept is refused, all of it at once."""

import pytest

from fleet.models.machine import LONGEST_SEARCH


@pytest.mark.parametrize("path", ["/machines/", "/gate/", "/ahead/", "/orders/"])
def test_too_long_a_search_is_refused_on_the_page(farm, path):
    farm.machine(for_hire=True)
    name = "machine" if path == "/orders/" else "word"
    answer = farm.client("manager").get(path, {name: "a " * LONGEST_SEARCH, "yard": "x", "state": "x"})
    assert answer.status_code == 200
    assert f"Make it shorter: {LONGEST_SEARCH} characters at most" in answer.content.decode()


@pytest.mark.parametrize("path", ["/machines/", "/gate/", "/ahead/"])
def test_everything_wrong_with_it_is_said_at_once(farm, path):
    farm.machine(for_hire=True)
    html = farm.client("manager").get(path, {"word": "\0", "yard": "x"}).content.decode()
    assert "Not all of that could be searched for." in html
    assert "it holds a character that can&#x27;t be kept" in html
    assert "That isn&#x27;t on the list. Choose again." in html


def test_forty_words_find_what_has_them_all(farm):
    machine = farm.machine(tag="T-07")
    html = farm.client("manager").get("/machines/", {"word": "t " * (LONGEST_SEARCH // 2)}).content.decode()
    assert f">{machine.tag}</a>" in html
