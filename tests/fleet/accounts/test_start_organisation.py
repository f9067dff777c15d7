"""A new organisation from the command line."""

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django_scopes import scope

from fleet.models import Member, Organisation, Yard


def start(**options):
    return call_command(
        "start_organisation",
        "alder-farm",
        name="Alder Farm",
        owner="Mara@Example.org",
        owner_name="Mara",
        **options,
    )


def test_begins_with_a_yard_and_an_owner_who_sets_a_password_once(db, capsys):
    start(zone="Europe/Dublin", yard="Home yard")
    organisation = Organisation.objects.get(slug="alder-farm")
    with scope(organisation=organisation):
        assert Yard.objects.get().name == "Home yard"
        owner = Member.objects.select_related("user").get()
    assert (owner.role, owner.user.username, owner.user.has_usable_password()) == (
        "owner",
        "mara@example.org",
        False,
    )
    link = capsys.readouterr().out.strip().splitlines()[-1]
    assert Client().get(link, follow=True).status_code == 200


@pytest.mark.parametrize(
    ("options", "said"),
    [({"zone": "Dublin"}, "not a time zone"), ({"currency": "EURO"}, "at most 3 characters")],
)
def test_wrong_values_are_named_and_nothing_is_stored(db, options, said):
    with pytest.raises(CommandError, match=said):
        start(**options)
    assert not Organisation.objects.exists()


def test_the_same_again_is_refused(db):
    start()
    with pytest.raises(CommandError, match="already exists"):
        start()
    assert Organisation.objects.count() == 1
