"""The page behind a sticker as a plain form, without any script; and what it tells its scripts."""

import json
import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from io import BytesIO
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from fleet import readings
from fleet.machines import attachments, retirement
from fleet.models import Reading
from servicing.web import service_worker
from tests.factories import MachineTypeFactory, MemberFactory

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
STATIC = Path(__file__).parents[3] / "servicing" / "static"
pytestmark = pytest.mark.time_machine(NOW, tick=False)


@pytest.fixture
def tractor(farm):
    with farm.scope():
        made = farm.machine(tag="T-07")
        taken = readings.Submitted(made.pk, NOW - timedelta(days=10), Decimal(1000))
        readings.take(
            organisation=farm.organisation, rows=[taken], source="page", sender="page", member=farm.manager
        )
    return made


def page(machine):
    return reverse("phone-machine", args=[machine.code])


def picture():
    kept = BytesIO()
    Image.new("RGB", (8, 8), "grey").save(kept, "PNG")
    return SimpleUploadedFile("meter.png", kept.getvalue(), "image/png")


def readings_of(farm, machine):
    with farm.scope():
        return list(Reading.objects.filter(machine=machine, source="phone"))


@pytest.mark.parametrize("role", ["owner", "manager", "technician", "counter"])
def test_every_member_may_enter_hours(farm, tractor, role):
    client = farm.client(role)
    shown = client.get(page(tractor))
    assert shown.status_code == 200
    assert "1\u202f000.0\u00a0h" in shown.content.decode()
    client_id = re.search(r'name="client_id" value="(\w+)"', shown.content.decode())[1]
    answer = client.post(page(tractor), {"shows": "1 010,5", "client_id": client_id})
    (kept,) = readings_of(farm, tractor)
    assert answer.url == reverse("reading", args=[kept.pk])
    assert (kept.shows, kept.state, kept.taken_by) == (Decimal("1010.5"), "counted", getattr(farm, role))


def test_after_signing_in_one_is_back_at_the_machine(farm, tractor):
    client = Client()
    sent_on = client.get(page(tractor))
    assert sent_on.url == f"{reverse('login')}?next={page(tractor)}"
    name = {"username": farm.counter.user.username, "password": "a-long-enough-word"}
    assert client.post(sent_on.url, {**name, "next": page(tractor)}).url == page(tractor)


def test_a_form_sent_twice_counts_once(farm, tractor):
    client = farm.client("counter")
    for _ in range(2):
        answer = client.post(page(tractor), {"shows": "1010", "client_id": "e1"})
    (kept,) = readings_of(farm, tractor)
    assert answer.url == reverse("reading", args=[kept.pk])


def test_a_photo_comes_along_and_the_reading_shows_it(farm, tractor, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    client = farm.client("counter")
    shown = client.post(page(tractor), {"shows": "1010", "photo": picture(), "note": "Dusty"}, follow=True)
    (kept,) = readings_of(farm, tractor)
    with farm.scope():
        photo = kept.photos.get()
    assert reverse("media", args=[photo.image.name]) in shown.content.decode()
    assert kept.note == "Dusty"


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"shows": ""}, "Give the hours on the meter."),
        ({"shows": "1,010"}, "without commas between thousands"),
        ({"shows": "10o0"}, "Give the number as the meter shows it"),
        ({"shows": "1010", "photo": SimpleUploadedFile("meter.png", b"no")}, "not a photo"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_stays(farm, tractor, sent, said):
    answer = farm.client("counter").post(page(tractor), {"note": "Dusty", **sent})
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert "Dusty" in answer.content.decode()
    assert readings_of(farm, tractor) == []


def test_a_code_typed_otherwise_leads_to_the_same_page(farm, tractor):
    client = farm.client("counter")
    typed = f"{tractor.code[:4]}-{tractor.code[4:]}".lower()
    assert client.get(reverse("phone-machine", args=[typed])).url == page(tractor)
    for asked in (typed, "t-07"):
        assert client.get(reverse("phone"), {"machine": asked}).url == page(tractor)


def test_what_nobody_knows_is_told_with_the_next_step(farm, stranger, tractor):
    with stranger.scope():
        theirs = stranger.machine(tag="X-01")
    client = farm.client("counter")
    for address in (
        page(theirs),
        reverse("phone-machine", args=["00000000"]),
        f"{reverse('phone')}?machine=X-01",
    ):
        answer = client.get(address)
        assert answer.status_code == 404
        assert "type the fleet number painted on the machine" in answer.content.decode()
    assert client.post(page(theirs), {"shows": "5"}).status_code == 404


def test_an_attachments_sticker_leads_to_the_machine_it_hangs_on(farm, tractor):
    with farm.scope():
        kind = MachineTypeFactory(organisation=farm.organisation, category="attachment")
        loader = farm.attachment(type=kind)
    client = farm.client("counter")
    assert client.get(page(loader)).url == loader.get_absolute_url()
    with farm.scope():
        attachments.mount(attachment=loader, machine=tractor, at=NOW, member=farm.manager)
    assert client.get(page(loader)).url == page(tractor)


def test_a_retired_machines_sticker_leads_to_its_page(farm, tractor):
    with farm.scope():
        retirement.retire(machine=tractor, on=tractor.today(), member=farm.manager)
    answer = farm.client("counter").get(page(tractor))
    assert answer.url == tractor.get_absolute_url()


def test_the_pages_let_in_nothing_from_elsewhere_and_carry_no_script_of_their_own(farm, tractor):
    client = farm.client("counter")
    for address in (page(tractor), reverse("phone")):
        answer = client.get(address)
        policy = answer["Content-Security-Policy"]
        assert "default-src 'self'" in policy
        assert "unsafe" not in policy
        text = answer.content.decode()
        assert not re.search(r"<script(?![^>]*\bsrc=)|\sstyle=|\son\w+=", text)
        assert not re.search(r'(?:src|href)="(?:https?:)?//', text)
    worker = client.get(reverse("service-worker"))
    assert worker["Content-Security-Policy"] == "default-src 'none'; script-src 'self'; connect-src 'self'"
    worker.close()


def test_every_script_that_a_page_imports_is_kept_with_it(farm, tractor):
    phone = json.loads(farm.client("counter").get(page(tractor)).context["facts"])["scripts"]
    shared = {"/static/hourmark/dom.js", "/static/hourmark/language.js"}
    assert set(phone) == {*shared, *offline("*.js"), *offline("phone/*.js")}
    steps = service_worker.scripts_of("hourmark/steps.js")
    shared |= {"/static/hourmark/former_names.js", "/static/hourmark/outcomes.js"}
    assert set(steps) == {*shared, *offline("*.js"), *offline("steps/*.js")}
    assert [len(set(each)) - len(each) for each in (phone, steps)] == [0, 0]


def offline(pattern: str) -> list[str]:
    """The addresses of the scripts for pages without a signal."""
    found = [path.relative_to(STATIC) for path in (STATIC / "hourmark" / "offline").glob(pattern)]
    assert found
    return [f"/static/{path}" for path in found]


def test_what_the_scripts_are_told(farm, tractor):
    shown = farm.client("counter").get(page(tractor))
    facts = json.loads(shown.context["facts"])
    assert (facts["member"], facts["card"]["machine"]) == (farm.counter.pk, tractor.pk)
    assert json.loads(farm.client("counter").get(reverse("phone")).context["facts"])["card"] is None


def test_a_sticker_of_ones_other_organisation_leads_there(farm, stranger, tractor):
    MemberFactory(organisation=farm.organisation, user=stranger.counter.user, role="counter")
    browser = stranger.client("counter")
    browser.post(reverse("account-organisation"), {"member": stranger.counter.pk})
    answer = browser.get(page(tractor))
    assert answer.status_code == 404
    text = answer.content.decode()
    assert f"This sticker belongs to {farm.organisation.name}." in text
    assert "T-07" not in text
    asked = dict(re.findall(r'name="(member|next)" value="([^"]+)"', text))
    assert browser.post(reverse("account-organisation"), asked).url == page(tractor)
    assert browser.get(page(tractor)).status_code == 200


def test_a_strangers_sticker_is_of_nobody_known(stranger, tractor):
    text = stranger.client("counter").get(page(tractor)).content.decode()
    assert "This sticker is of" not in text
    assert f"No machine here has the code or fleet number {tractor.code}" in text


@pytest.mark.parametrize("there", ["https://elsewhere.example/", "//elsewhere.example/", "", "javascript:x"])
def test_choosing_an_organisation_leads_nowhere_else(farm, there):
    asked = {"member": farm.counter.pk, "next": there}
    assert farm.client("counter").post(reverse("account-organisation"), asked).url == reverse("today")
