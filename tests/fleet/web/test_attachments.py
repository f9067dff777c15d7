"""Attachments are entered, mounted and taken off; they run their host's hours."""

import re
from datetime import datetime
from decimal import Decimal

import pytest
from django.urls import reverse
from django_scopes import scopes_disabled

from fleet.models import Attachment, Mounting
from tests.factories import MachineTypeFactory
from tests.fleet.web.rows import take


@pytest.fixture
def cutter(farm):
    return farm.attachment(tag="A-03", hours_before=10)


def mount(house, attachment, machine, **data):
    page = reverse("attachment-mount", args=[attachment.pk])
    return house.client("technician").post(page, {"machine": machine.pk} | data)


def remove(house, attachment, **data):
    return house.client("technician").post(reverse("attachment-remove", args=[attachment.pk]), data)


def test_it_runs_the_hours_of_its_host_while_mounted(farm, machine, cutter):
    with farm.scope():
        take(farm, machine, "100")
    assert mount(farm, cutter, machine, at="2026-03-01T13:00").status_code == 302
    with farm.scope():
        take(farm, machine, "130", days=4)
    page = farm.client("technician").get("/attachments/").content.decode()
    assert "40.0\u00a0h" in page
    assert "T-07</a> since" in page
    assert remove(farm, cutter, at="2026-03-06T09:00").status_code == 302
    with farm.scope():
        take(farm, machine, "150", days=8)
        # it came off 20 of the 96 hours after the 130 h were read, in which the machine ran 20 h
        assert Attachment.objects.get().hours == Decimal("44.17")
    page = farm.client("technician").get("/attachments/").content.decode()
    assert "Not mounted" in page


@pytest.mark.time_machine("2027-02-01 12:00Z", tick=False)
def test_its_page_says_on_which_days_it_was_mounted(farm, machine, cutter):
    with farm.scope():
        for began, ended in (
            ("2026-03-01", "2026-03-06"),
            ("2026-05-02", "2026-05-02"),
            ("2026-12-24", None),
        ):
            Mounting.objects.create(
                organisation=farm.organisation,
                machine=machine,
                attachment_id=cutter.pk,
                mounted_at=datetime.fromisoformat(f"{began}T09:00Z"),
                hours_on=1,
                removed_at=datetime.fromisoformat(f"{ended}T10:00Z") if ended else None,
                hours_off=2 if ended else None,
            )
    page = farm.client("technician").get(cutter.get_absolute_url()).content.decode().replace("\u00a0", " ")
    listed = page.split("<h2>Mounted</h2>")[1].split("</ul>")[0]
    assert re.findall(r"</a>, (.*?)</li>", listed) == [
        "24 Dec 2026 to now",
        "2 May 2026",
        "1 Mar to 6 Mar 2026",
    ]


def test_it_hangs_on_one_machine_at_a_time(farm, machine, cutter):
    mount(farm, cutter, machine)
    other = farm.machine(tag="T-08")
    answer = mount(farm, cutter, other)
    assert answer.status_code == 422
    assert "A-03 is on T-07" in answer.content.decode()
    with scopes_disabled():
        assert Mounting.objects.get().machine == machine


def test_a_moment_that_cannot_be_is_refused(farm, machine, cutter):
    answer = mount(farm, cutter, machine, at="2999-01-01T00:00")
    assert answer.context["form"].errors.keys() == {"at"}
    mount(farm, cutter, machine, at="2026-03-01T14:00")
    answer = remove(farm, cutter, at="2026-02-01T14:00")
    assert answer.context["form"].errors.keys() == {"at"}


def test_taking_off_twice_is_told(farm, machine, cutter):
    mount(farm, cutter, machine)
    assert remove(farm, cutter).status_code == 302
    answer = farm.client("technician").post(reverse("attachment-remove", args=[cutter.pk]), follow=False)
    assert answer["Location"] == "/attachments/"


def test_another_organisations_machine_is_refused(farm, stranger, cutter):
    answer = mount(farm, cutter, stranger.machine())
    assert answer.context["form"].errors.keys() == {"machine"}
    with scopes_disabled():
        assert not Mounting.objects.exists()


def entry(house, kind, **changed):
    return {
        "tag": "A-09",
        "type": kind.pk,
        "yard": house.yard.pk,
        "in_service_on": "2026-01-05",
        "hours_before": "12.5",
    } | changed


@pytest.fixture
def kind(farm):
    return MachineTypeFactory(organisation=farm.organisation, category="attachment")


def test_it_is_entered(farm, kind):
    assert farm.client("manager").post("/attachments/new/", entry(farm, kind)).status_code == 302
    with farm.scope():
        made = Attachment.objects.get()
    assert (made.tag, made.hours) == ("A-09", Decimal("12.50"))


def test_what_cannot_be_is_refused(farm, stranger, kind, cutter):
    tractor = MachineTypeFactory(organisation=farm.organisation)
    theirs = MachineTypeFactory(organisation=stranger.organisation, category="attachment")
    for changed, field in [
        ({"tag": "a-03"}, "tag"),
        ({"type": tractor.pk}, "type"),
        ({"type": theirs.pk}, "type"),
        ({"yard": stranger.yard.pk}, "yard"),
        ({"in_service_on": "2999-01-01"}, "in_service_on"),
        ({"hours_before": "-1"}, "hours_before"),
    ]:
        answer = farm.client("manager").post("/attachments/new/", entry(farm, kind, **changed))
        assert answer.context["form"].errors.keys() == {field}
    with scopes_disabled():
        assert list(Attachment.objects.all()) == [cutter]
