"""Technicians come with the role and keep their rate."""

import re
from decimal import Decimal

import pytest

from fleet.accounts import invitations, members
from fleet.core.errors import FleetError, NotAllowed
from servicing.models import Technician
from servicing.workorders import technicians
from tests.factories import TechnicianFactory


def test_a_new_technician_can_be_given_work_at_once(in_farm):
    asked = invitations.ask(name="Ada", email="ada@example.org", role="technician", member=in_farm.owner)
    person = invitations.begin(secret=invitations.secret_of(asked), password="three odd words")
    assert Technician.objects.working().get().member == person


def test_somebody_who_becomes_a_technician_can_too_and_keeps_the_rate(in_farm):
    change = {"active": True, "mail": True, "member": in_farm.owner}
    members.change(person=in_farm.counter, role="technician", **change)
    technician = Technician.objects.get(member=in_farm.counter)
    technicians.change(technician=technician, hourly_rate=Decimal(44), licensed=True, member=in_farm.manager)
    members.change(person=in_farm.counter, role="counter", **change)
    members.change(person=in_farm.counter, role="technician", **change)
    technician.refresh_from_db()
    assert (technician.hourly_rate, technician.licensed) == (44, True)


def test_others_do_not_set_rates(in_farm):
    technician = TechnicianFactory(member=in_farm.technician)
    with pytest.raises(NotAllowed):
        technicians.change(
            technician=technician, hourly_rate=Decimal(1), licensed=False, member=in_farm.technician
        )
    with pytest.raises(FleetError, match="Enter 0 or more"):
        technicians.change(
            technician=technician, hourly_rate=Decimal(-1), licensed=False, member=in_farm.manager
        )


def test_the_page_lists_and_changes(farm, stranger):
    technician = TechnicianFactory(member=farm.technician)
    browser = farm.client("manager")
    assert str(farm.technician) in browser.get("/technicians/").content.decode()
    wrong = browser.post(f"/technicians/{technician.pk}/", {"hourly_rate": "-3"})
    assert wrong.status_code == 422
    assert browser.post(f"/technicians/{technician.pk}/", {"hourly_rate": "41,50"}).status_code == 302
    technician.refresh_from_db()
    assert technician.hourly_rate == Decimal("41.50")
    assert farm.client("technician").get("/technicians/").status_code == 403
    assert stranger.client("owner").get(f"/technicians/{technician.pk}/").status_code == 404


def test_a_rate_nobody_entered_is_said_and_never_nought(farm):
    with farm.scope():
        technician = TechnicianFactory(member=farm.technician, hourly_rate=Decimal(0))
    browser = farm.client("manager")
    page = browser.get("/technicians/").content.decode()
    assert "not entered" in page
    assert "0.00" not in page
    form = browser.get(f"/technicians/{technician.pk}/").content.decode()
    (rate,) = re.findall(r'<input[^>]*name="hourly_rate"[^>]*>', form)
    assert "value=" not in rate
    assert (
        browser.post(f"/technicians/{technician.pk}/", {"hourly_rate": "", "licensed": "on"}).status_code
        == 302
    )
    with farm.scope():
        technician.refresh_from_db()
    assert (technician.hourly_rate, technician.licensed) == (0, True)
