"""No page says a word that can't be translated: looked at, and refused with nothing typed, in each role."""

import pytest

from tests.doors.addresses import DOORS
from tests.unmarked import marked_messages, unmarked, words_of_people

pytestmark = [pytest.mark.doors, pytest.mark.django_db]
PAGES = [door for door in DOORS.values() if not door.is_api]


@pytest.fixture(scope="module")
def known(made):
    """The words that people wrote."""
    return words_of_people()


@pytest.mark.parametrize("role", ["owner", "technician", "counter"])
@pytest.mark.parametrize("door", PAGES, ids=lambda door: door.name)
def test_every_word_is_marked(ours, known, door, role):
    client, address = ours.browser(role), door.address(ours)
    with marked_messages():
        answers = [door.send(client, method, address) for method in door.methods]
    for answer in answers:
        if answer.get("Content-Type", "").startswith("text/html"):
            assert unmarked(answer.content.decode(), known) == []


def test_a_word_is_found():
    page = '<p title="Old">⟦Due ⟦soon⟧ at <b>Alder</b>⟧ Yard <code>x</code> <i>Nobody</i> marked</p>'
    assert unmarked(page, {"Yard"}) == ["Old", "Nobody", "marked"]
