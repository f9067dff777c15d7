"""One's own password, mail and organisation."""

import pytest
from django.urls import reverse
from django_scopes import scopes_disabled

from fleet.models import Member
from tests.cast import signs_in
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
    assert "Go there" not in farm.client("technician").get("/account/").content.decode()
