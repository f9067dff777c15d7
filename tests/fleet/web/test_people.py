"""People are let in by a link that works once, change their role, and the last owner stays."""

import re
from datetime import datetime, timedelta
from unittest import mock

import pytest
from django.apps import apps
from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.contrib.sessions.models import Session
from django.test import Client
from django.urls import reverse
from django_scopes import scope, scopes_disabled

from fleet import people
from fleet.errors import FleetError, NotAllowed
from fleet.models import Member, User
from tests.cast import signs_in
from tests.factories import MemberFactory

ADDRESS = re.compile(r'value="http://testserver(/welcome/[^"]+)"')
PASSWORD = "three-odd-words"


def add(house, **changed):
    entered = {"name": "Ada Marsh", "email": "Ada@Example.org", "role": "technician"} | changed
    return house.client("owner").post("/people/new/", entered)


def link_in(answer):
    return ADDRESS.search(answer.content.decode()).group(1)


def everything_stored():
    """Every text of every row of every table, sessions decoded."""
    with scopes_disabled():
        rows = [str(row) for model in apps.get_models() for row in model.objects.values_list()]
    return "\n".join(rows + [str(session.get_decoded()) for session in Session.objects.all()])


def change(house, person, role=None, active=True, mail=True, by="owner"):
    data = (
        {"role": role or person.role}
        | ({"active": "on"} if active else {})
        | ({"mail": "on"} if mail else {})
    )
    return house.client(by).post(reverse("person", args=[person.pk]), data)


def fresh(member):
    with scopes_disabled():
        return Member.objects.get(pk=member.pk)


def test_a_person_is_let_in_chooses_a_password_and_is_signed_in(farm):
    link = link_in(add(farm))
    visitor = Client()
    assert "Welcome, Ada Marsh" in visitor.get(link).content.decode()
    answer = visitor.post(link, {"password": PASSWORD, "again": PASSWORD})
    assert answer["Location"] == reverse("today")
    assert visitor.get("/account/").context["member"].role == "technician"
    assert signs_in("ada@example.org", PASSWORD)


def test_the_link_works_once(farm):
    link = link_in(add(farm))
    Client().post(link, {"password": PASSWORD, "again": PASSWORD})
    assert Client().get(link).status_code == 410
    answer = Client().post(link, {"password": "another-long-one", "again": "another-long-one"})
    assert answer.status_code == 410
    assert not signs_in("ada@example.org", "another-long-one")


def test_the_link_ends_after_three_days(farm, settings):
    link = link_in(add(farm))
    for after, status in [(-60, 200), (60, 410)]:
        moment = datetime.now() + timedelta(seconds=settings.PASSWORD_RESET_TIMEOUT + after)  # noqa: DTZ005
        with mock.patch.object(PasswordResetTokenGenerator, "_now", return_value=moment):
            assert Client().get(link).status_code == status
    assert settings.PASSWORD_RESET_TIMEOUT == 3 * 24 * 3600


def test_looking_does_not_use_it_up(farm):
    link = link_in(add(farm))
    assert [Client().get(link).status_code for _ in range(3)] == [200] * 3


def test_the_link_is_shown_once_and_kept_nowhere(farm):
    answer = add(farm)
    secret = link_in(answer).rstrip("/").rsplit("/", 1)[1]
    assert "no-store" in answer["Cache-Control"]
    visitor = Client()
    visitor.get(link_in(answer))
    assert secret not in everything_stored()
    with farm.scope():
        person = Member.objects.get(user__username="ada@example.org")
    client = farm.client("owner")
    for page in ("/people/", reverse("person", args=[person.pk])):
        assert secret not in client.get(page).content.decode()


@pytest.mark.parametrize("uid", ["MQ", "x", "LTE", "OTk5OTk5OTk5OTk5OTk5OTk5OTk5OTk5OTk5", "_w"])
def test_a_wrong_link_has_ended(farm, uid):
    assert Client().get(f"/welcome/{uid}/abc-def/").status_code == 410


def test_weak_or_differing_passwords_are_refused(farm):
    link = link_in(add(farm))
    short = Client().post(link, {"password": "short", "again": "short"})
    assert short.context["form"].errors.keys() == {"password"}
    differ = Client().post(link, {"password": PASSWORD, "again": PASSWORD + "x"})
    assert differ.context["form"].errors.keys() == {"again"}
    assert PASSWORD not in differ.content.decode()


def test_a_new_link_replaces_a_forgotten_password(farm):
    answer = farm.client("owner").post(reverse("person-link", args=[farm.technician.pk]))
    link = link_in(answer)
    Client().post(link, {"password": PASSWORD, "again": PASSWORD})
    assert signs_in(farm.technician.user.username, PASSWORD)


@pytest.mark.parametrize(
    ("changed", "field"),
    [({"name": " "}, "name"), ({"email": "ada"}, "email"), ({"role": "king"}, "role")],
)
def test_what_cannot_be_is_refused(farm, changed, field):
    assert add(farm, **changed).context["form"].errors.keys() == {field}


def test_an_address_in_the_list_already_is_told(farm):
    add(farm)
    answer = add(farm, email="ADA@example.org")
    assert "Ada Marsh has this address and is in the list already" in answer.content.decode()


def test_an_address_of_another_organisation_is_refused(farm, stranger):
    """Else an owner could make a link to the sign-in of somebody else's people."""
    answer = add(farm, email=stranger.manager.user.email)
    assert answer.context["form"].errors.keys() == {"email"}
    with farm.scope():
        assert Member.objects.count() == 4


def test_who_belongs_to_two_organisations_gets_no_link_from_one(farm, stranger):
    MemberFactory(organisation=stranger.organisation, user=farm.technician.user, role="owner")
    answer = farm.client("owner").post(reverse("person-link", args=[farm.technician.pk]), follow=True)
    assert "only the operator resets this password" in answer.content.decode()
    assert "/welcome/" not in answer.content.decode()


def test_an_operator_gets_no_link_from_an_owner(farm):
    User.objects.filter(pk=farm.technician.user_id).update(is_superuser=True)
    answer = farm.client("owner").post(reverse("person-link", args=[farm.technician.pk]), follow=True)
    assert "/welcome/" not in answer.content.decode()


def test_role_and_mail_are_changed(farm):
    assert change(farm, farm.technician, role="counter", mail=False).status_code == 302
    after = fresh(farm.technician)
    assert (after.role, after.active, after.mail) == ("counter", True, False)


def test_who_is_switched_off_is_out_at_once(farm):
    client, api = farm.client("technician"), farm.api("technician")
    assert client.get("/account/").status_code == 200
    change(farm, farm.technician, active=False)
    assert client.get("/account/").status_code == 403
    assert api.get("/api/v1/machines").status_code == 401
    link = farm.client("owner").post(reverse("person-link", args=[farm.technician.pk]), follow=True)
    assert "is switched off" in link.content.decode()


@pytest.mark.parametrize(("role", "active", "field"), [("manager", True, "role"), ("owner", False, "active")])
def test_nobody_changes_their_own_role(farm, role, active, field):
    MemberFactory(organisation=farm.organisation, role="owner")
    answer = change(farm, farm.owner, role=role, active=active)
    assert answer.context["form"].errors.keys() == {field}
    after = fresh(farm.owner)
    assert (after.role, after.active) == ("owner", True)


def test_an_owner_may_change_their_own_mail(farm):
    assert change(farm, farm.owner, mail=False).status_code == 302
    assert fresh(farm.owner).mail is False


def test_another_owner_can_be_changed_while_one_stays(farm):
    other = MemberFactory(organisation=farm.organisation, role="owner")
    assert change(farm, other, role="manager").status_code == 302
    assert fresh(other).role == "manager"


def test_of_two_owners_who_take_each_others_role_one_stays(farm):
    """The second acts on what was true when their page was opened."""
    other = MemberFactory(organisation=farm.organisation, role="owner")
    with scope(organisation=farm.organisation):
        first, second = fresh(farm.owner), fresh(other)
        people.change(person=second, role="manager", active=True, mail=True, member=first)
        with pytest.raises(NotAllowed):
            people.change(person=first, role="manager", active=True, mail=True, member=fresh_stale(second))
    assert fresh(farm.owner).role == "owner"


def fresh_stale(member):
    """The member as a page that was opened earlier knows them: still an owner."""
    member.role = "owner"
    return member


def test_the_last_owner_who_can_sign_in_stays(farm):
    """The one who acts can't sign in any more, as when the operator has just switched their sign-in off."""
    other = MemberFactory(organisation=farm.organisation, role="owner")
    User.objects.filter(pk=farm.owner.user_id).update(is_active=False)
    with scope(organisation=farm.organisation), pytest.raises(FleetError, match="last owner"):
        people.change(person=other, role="owner", active=False, mail=True, member=farm.owner)
    assert fresh(other).active


def test_a_strangers_member_cannot_be_changed(farm, stranger):
    assert change(farm, stranger.technician, role="owner").status_code == 404
    with scope(organisation=farm.organisation), pytest.raises((NotAllowed, Member.DoesNotExist)):
        people.change(person=stranger.technician, role="owner", active=True, mail=True, member=farm.owner)
    assert fresh(stranger.technician).role == "technician"
