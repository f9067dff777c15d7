"""Pages of machines and people in German: their words, and what stays as machines read it."""

import re
from datetime import UTC, datetime
from decimal import Decimal as D

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse

from fleet.core.languages import spoken_to
from fleet.models import TelematicsUnit


@pytest.fixture
def owner(farm):
    """A browser in which an owner who chose German is signed in."""
    farm.owner.user.language = "de"
    farm.owner.user.save()
    return farm.client("owner")


def test_what_the_openapi_document_says_is_marked_as_english(db):
    said = Client().get(reverse("api"), headers={"accept-language": "de"}).content.decode()
    assert "So fangen Sie an" in said
    assert "<dt>Wer darf</dt><dd>Inhaber/in, " in said
    assert '<span lang="en">Machines, hour readings, tasks due' in said
    english = Client().get(reverse("api"), headers={"accept-language": "en-gb"}).content.decode()
    assert "How to begin" in english
    assert '<span lang="en">' not in english
    assert len(re.findall("<code>", said)) == len(re.findall("<code>", english))


def test_people_and_their_roles_are_german(farm, owner):
    said = owner.get(reverse("people")).content.decode()
    assert "Wer sich anmelden kann und was jede Person darf." in said
    assert f'Ändern<span class="unseen">: {farm.manager}</span>' in said


def test_a_place_keeps_its_points_where_a_map_reads_it(farm):
    unit = TelematicsUnit(latitude=D("41.661100"), longitude=D("-93.744200"))
    unit.location_at = datetime(2026, 3, 2, 7, tzinfo=UTC)
    farm.owner.user.language = "de"
    with spoken_to(farm.owner.user):
        said = render_to_string("fleet/parts/place.html", {"unit": unit})
    assert '<a href="geo:41.6611,-93.7442">41,6611; -93,7442</a>' in said
