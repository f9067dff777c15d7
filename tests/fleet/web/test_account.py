"""One's own password, mail and organisation."""

from io import StringIO
from unittest import mock

import pytest
from django.contrib.auth.management.commands import changepassword
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django_scopes import scopes_disabled

from fleet.accounts import members
from fleet.models import ApiToken, Member, User
from tests.cast import bearer, confirm, signs_in
from tests.factories import MemberFactory
from tests.factories.fleet import PASSWORD

NEW = "three-odd-words"


def test_the_password_is_changed_and_other_devices_are_out(farm):
    here, elsewhere = farm.client("technician"), farm.client("technician")
    answer = here.post(
        "/account/password/", {"old_password": PASSWORD, "new_password1": NEW, "new_password2": NEW}
    )
    assert answer.status_code == 302
    assert here.get("/account/").status_code == 200
    assert elsewhere.get("/account/").status_code == 302
    assert signs_in(farm.technician.user.username, NEW)


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"old_password": "wrong"}, "old_password"),
        ({"new_password2": "other"}, "new_password2"),
        ({"new_password1": "1234567890", "new_password2": "1234567890"}, "new_password2"),
    ],
)
def test_a_wrong_password_is_refused(farm, changed, field):
    entered = {"old_password": PASSWORD, "new_password1": NEW, "new_password2": NEW} | changed
    answer = farm.client("technician").post("/account/password/", entered)
    assert answer.status_code == 422
    assert answer.context["password_form"].errors.keys() == {field}
    assert signs_in(farm.technician.user.username, PASSWORD)


@pytest.mark.parametrize(("data", "mail"), [({}, False), ({"mail": "on"}, True)])
def test_mail_is_ones_own_choice(farm, data, mail):
    farm.client("technician").post("/account/mail/", data)
    with scopes_disabled():
        assert Member.objects.get(pk=farm.technician.pk).mail is mail
        assert Member.objects.filter(mail=True).count() == 3 + mail


def test_who_is_in_two_organisations_chooses(farm, stranger):
    second = MemberFactory(organisation=stranger.organisation, user=farm.technician.user, role="counter")
    client = farm.client("technician")
    page = client.get("/account/")
    assert page.context["organisation"] == farm.organisation
    assert "Birch Rentals" in page.content.decode()
    answer = client.post("/account/organisation/", {"member": second.pk})
    assert answer["Location"] == reverse("today")
    page = client.get("/account/")
    assert (page.context["organisation"], page.context["member"]) == (stranger.organisation, second)


def test_nobody_chooses_anothers_membership(farm, stranger):
    client = farm.client("technician")
    gone = MemberFactory(organisation=stranger.organisation, user=farm.technician.user, active=False)
    for member in (stranger.owner.pk, farm.owner.pk, gone.pk, "", "x"):
        assert client.post("/account/organisation/", {"member": member}).status_code == 404
    assert client.get("/account/").context["member"] == farm.technician


def test_who_is_in_one_is_not_asked(farm):
    assert "Switch to it" not in farm.client("technician").get("/account/").content.decode()


@pytest.mark.security
@pytest.mark.parametrize("way", ["own page", "link", "admin", "admin, none", "command"])
def test_another_password_ends_tokens_and_sessions_in_every_organisation(farm, stranger, way):
    """However it is set. Devices' tokens and other people's stay."""
    user = farm.technician.user
    elsewhere = MemberFactory(organisation=stranger.organisation, user=user, role="counter")
    with farm.scope():
        mine, other = farm.api("technician"), farm.api("manager")
    with stranger.scope():
        _, secret = ApiToken.issue(name="there", created_by=elsewhere, member=elsewhere)
    device, session = farm.device(), farm.client("technician")
    doors = (mine, bearer(secret), other, device)
    assert [door.post("/api/v1/readings", []).status_code for door in doors] == [200] * 4
    SET[way](user)
    assert [door.post("/api/v1/readings", []).status_code for door in doors] == [401, 401, 200, 200]
    assert session.get("/account/").status_code == 302


def own_page(user):
    client = Client()
    client.force_login(user)
    client.post("/account/password/", {"old_password": PASSWORD, "new_password1": NEW, "new_password2": NEW})


def by_link(user):
    invitation = members.invite(user=user)
    members.accept(uid=invitation.uid, secret=invitation.secret, password=NEW)


def by_admin(user, press="set-password"):
    operator = Client()
    operator.force_login(User.objects.create_superuser("operator", password=PASSWORD))
    confirm(operator)
    address = reverse("admin:auth_user_password_change", args=[user.pk])
    usable = "true" if press == "set-password" else "false"
    answer = operator.post(
        address, {"usable_password": usable, "password1": NEW, "password2": NEW, press: "yes"}
    )
    assert answer.status_code == 302


def by_command(user):
    with mock.patch.object(changepassword.Command, "_get_pass", return_value=NEW):
        call_command("changepassword", user.username, stdout=StringIO())


SET = {
    "own page": own_page,
    "link": by_link,
    "admin": by_admin,
    "admin, none": lambda user: by_admin(user, press="unset-password"),
    "command": by_command,
}


def test_a_hash_made_anew_of_the_same_password_ends_nothing(farm, settings):
    """As when Django's own way of hashing changes: the person signs in and has noticed nothing."""
    settings.PASSWORD_HASHERS = [
        "django.contrib.auth.hashers.PBKDF2PasswordHasher",
        "django.contrib.auth.hashers.MD5PasswordHasher",
    ]
    token, before = farm.api("technician"), farm.technician.user.password
    assert signs_in(farm.technician.user.username, PASSWORD)
    assert User.objects.get(pk=farm.technician.user_id).password != before
    assert token.get("/api/v1/machines").status_code == 200


def test_a_wrong_old_password_ends_nothing(farm):
    token = farm.api("technician")
    entered = {"old_password": "wrong", "new_password1": NEW, "new_password2": NEW}
    farm.client("technician").post("/account/password/", entered)
    assert token.get("/api/v1/machines").status_code == 200
