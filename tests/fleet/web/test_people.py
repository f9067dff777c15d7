"""People change their role, are switched off, and the last owner stays."""

import pytest
from django.apps import apps
from django.contrib.sessions.models import Session
from django.urls import reverse
from django_scopes import scope, scopes_disabled

from fleet.accounts import members
from fleet.core.errors import FleetError, NotAllowed
from fleet.models import Member, User
from tests.factories import MemberFactory
from tests.fleet.web.letters import letters


def add(house, **changed):
    entered = {"name": "Ada Marsh", "email": "Ada@Example.org", "role": "technician"} | changed
    return house.client("owner").post("/people/new/", entered)


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


@pytest.mark.parametrize(
    ("changed", "field"),
    [({"name": " "}, "name"), ({"email": "ada"}, "email"), ({"role": "king"}, "role")],
)
def test_what_cannot_be_is_refused(farm, changed, field):
    assert add(farm, **changed).context["form"].errors.keys() == {field}


def test_an_address_in_the_list_already_is_told(farm):
    answer = add(farm, email=farm.technician.user.email.upper())
    assert f"{farm.technician} is in the list already with this address" in answer.content.decode()


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
    assert "may not sign in" in link.content.decode()
    assert letters() == []


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
        members.change(person=second, role="manager", active=True, mail=True, member=first)
        with pytest.raises(NotAllowed):
            members.change(person=first, role="manager", active=True, mail=True, member=fresh_stale(second))
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
        members.change(person=other, role="owner", active=False, mail=True, member=farm.owner)
    assert fresh(other).active


def test_a_strangers_member_cannot_be_changed(farm, stranger):
    assert change(farm, stranger.technician, role="owner").status_code == 404
    with scope(organisation=farm.organisation), pytest.raises((NotAllowed, Member.DoesNotExist)):
        members.change(person=stranger.technician, role="owner", active=True, mail=True, member=farm.owner)
    assert fresh(stranger.technician).role == "technician"
