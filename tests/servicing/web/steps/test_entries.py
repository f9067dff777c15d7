"""What is entered at a step, and what the page tells its scripts."""

import json
import re
from datetime import date
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from fleet.models import TagOut
from servicing import workorders
from servicing.models import CheckResult, Duty, LinePhoto
from tests.factories import PartFactory
from tests.servicing.web.order_pages import NOW, names, now
from tests.servicing.web.steps.step_pages import address, step_of, visible

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_a_step_is_saved_and_leads_to_the_next(farm, started, belt, brake):
    step, (line, check) = step_of(farm, started, belt), names(farm, started, belt)
    client = farm.client("technician")
    sent = {
        "revision": 2,
        f"{line}-outcome": "done",
        f"{line}-note": "guard bent",
        f"{check}-found": "0.3",
        f"{check}-found_unit": "in",
    }
    answer = client.post(address(started, step), sent)
    assert answer.url == address(started, step + 1)
    with farm.scope():
        result = CheckResult.objects.get()
        # NIST SP 811: 1 in = 25.4 mm exactly, so 0.3 in is 7.62 mm, the limit itself
        assert (result.as_found, result.found_passes) == ("0.3 in", True)
    brake_step, (line, check) = step_of(farm, started, brake), names(farm, started, brake)
    client.post(
        address(started, brake_step), {"revision": 3, f"{line}-outcome": "done", f"{check}-found": "passes"}
    )
    with farm.scope():
        assert [row.outcome for row in started.lines.all()] == ["done", "done"], "the first step still stands"
        assert started.lines.get(duty=belt).note == "guard bent"
        assert CheckResult.objects.count() == 2


@pytest.mark.parametrize(
    ("typed", "unit", "passes"),
    [
        # NIST SP 811: 1 in = 25.4 mm exactly
        ("0.3", "in", True),
        ("0.300001", "in", False),
        ("7.62", "mm", True),
        ("7.620001", "mm", False),
    ],
)
def test_a_limit_is_judged_on_the_exact_value_typed(farm, started, belt, typed, unit, passes):
    step, (_, check) = step_of(farm, started, belt), names(farm, started, belt)
    sent = {"revision": 2, f"{check}-found": typed, f"{check}-found_unit": unit}
    farm.client("technician").post(address(started, step), sent)
    with farm.scope():
        result = CheckResult.objects.get()
    assert (result.as_found, result.passes) == (f"{typed} {unit}", passes)


def test_the_page_tells_its_scripts_the_limits_as_exact_fractions(farm, started, belt, brake):
    page = farm.client("technician").get(address(started))
    judging = json.loads(page.context["facts"])["judging"]
    measured, tested = (judging[names(farm, started, duty)[1]] for duty in (belt, brake))
    assert (measured["unit"], measured["lower"], measured["upper"]) == ("mm", "7", "381/50")
    # what 0 and 1 are in mm; NIST SP 811: 1 in = 25.4 mm exactly
    assert (measured["units"]["mm"], measured["units"]["in"]) == (["0", "1"], ["0", "127/5"])
    assert (measured["safety"], measured["grave"]) == (False, False)
    assert tested == {"safety": True, "grave": True, "words": {"passes": True, "fails": False}}


def test_a_failed_safety_check_tags_out_at_once_and_the_page_says_so(farm, machine, started, brake):
    step, (_, check) = step_of(farm, started, brake), names(farm, started, brake)
    client = farm.client("technician")
    page = client.post(
        address(started, step), {"revision": 2, f"{check}-found": "fails"}, follow=True
    ).content.decode()
    assert "check failed: Brake holds: fails. Hang the tag on it and take the key" in page
    closing = client.get(reverse("order-close", args=[started.pk])).content.decode()
    assert "fails. Hang the tag on it" in closing
    assert now(farm, started).state == "started"
    with farm.scope():
        assert TagOut.objects.open().get().machine == machine


@pytest.mark.parametrize(
    ("written", "told"),
    [("No belt", "No belt. Resume"), ("No belt! ", "No belt! Resume"), ("No belt.", "No belt. Resume")],
)
def test_what_a_person_wrote_ends_before_the_next_sentence_begins(farm, started, written, told):
    member = farm.technician
    workorders.hold(order=started, reason=written, member=member, revision=started.revision)
    assert told in farm.client("technician").get(address(started)).content.decode()


def test_left_needs_a_reason_and_a_new_day_and_stays_on_today(farm, started, belt, brake):
    step, (line, _) = step_of(farm, started, belt), names(farm, started, belt)
    client = farm.client("technician")
    answer = client.post(address(started, step), {"revision": 2, f"{line}-outcome": "deferred"})
    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == {f"{line}-reason", f"{line}-deferred_until"}
    sent = {
        "revision": 2,
        f"{line}-outcome": "deferred",
        f"{line}-reason": "No belt in stock",
        f"{line}-deferred_until": "2026-05-20",
    }
    assert client.post(address(started, step), sent).status_code == 302
    line, check = names(farm, started, brake)
    client.post(
        address(started, step_of(farm, started, brake)),
        {"revision": 3, f"{line}-outcome": "done", f"{check}-found": "passes"},
    )
    answer = client.post(address(started, 6), {"revision": 4, "hours": "1004", "close": "yes"})
    assert answer.url == started.get_absolute_url()
    with farm.scope():
        left = Duty.objects.get(pk=belt.pk)
    assert (left.deferred_until, left.deferred_reason) == (date(2026, 5, 20), "No belt in stock")
    assert "Fan belt" in farm.client("manager").get(reverse("today")).content.decode()


def test_closing_names_what_other_steps_lack(farm, started, belt, brake):
    client = farm.client("technician")
    answer = client.post(address(started, 6), {"revision": 2, "hours": "1004", "close": "yes"})
    assert answer.status_code == 422
    assert {screen.row.line.duty_id for screen, _, _ in answer.context["elsewhere"]} == {belt.pk, brake.pk}
    assert f'href="?step={step_of(farm, started, belt)}"' in answer.content.decode()
    assert now(farm, started).state == "started"


def test_what_the_tasks_ask_for_is_proposed_until_parts_are_recorded(farm, started, belt):
    with farm.scope():
        part = PartFactory(organisation=farm.organisation, name="V-belt")
        belt.task.supplies.create(organisation=farm.organisation, part=part, quantity=2)
    client, (line, _) = farm.client("technician"), names(farm, started, belt)
    client.post(address(started, step_of(farm, started, belt)), {"revision": 2, f"{line}-outcome": "done"})
    with farm.scope():
        assert not started.parts.exists(), "a step records no parts"
    section = visible(client.get(address(started, 6)).content.decode())
    assert re.search(rf'name="parts-{part.pk}-quantity" value="2"', section)
    client.post(address(started, 6), {"revision": 3, f"parts-{part.pk}-quantity": "1", "save": "yes"})
    assert f'name="parts-{part.pk}-quantity" value="1"' in client.get(address(started, 6)).content.decode()
    with farm.scope():
        assert started.lines.get(duty=belt).outcome == "done", "the end of the order leaves its lines alone"


def test_the_second_of_two_people_sees_what_the_first_did_and_loses_nothing(farm, started, belt):
    step, (line, check) = step_of(farm, started, belt), names(farm, started, belt)
    theirs = {"revision": 2, f"{check}-found": "7.1", f"{line}-note": "checked cold"}
    assert farm.client("manager").post(address(started, step), theirs).status_code == 302
    mine = {"revision": 2, f"{check}-found": "7.4", f"{line}-note": "checked warm"}
    answer = farm.client("technician").post(address(started, step), mine)
    assert answer.status_code == 409
    page = answer.content.decode()
    for said in ("7.1 mm", str(farm.manager), "checked cold", 'value="7.4"', "checked warm", 'value="3"'):
        assert said in page
    asked = [f"{check}-found", f"{line}-note"]
    answers = {"revision": 3, "asked": asked} | {f"stands-{name}": "mine" for name in asked}
    assert farm.client("technician").post(address(started, step), mine | answers).status_code == 302
    with farm.scope():
        assert CheckResult.objects.get().as_found == "7.4 mm"


def test_a_photo_comes_with_its_step(farm, started, belt):
    file = BytesIO()
    Image.new("RGB", (8, 8)).save(file, "PNG")
    step = step_of(farm, started, belt)
    photo = SimpleUploadedFile("x.png", file.getvalue())
    client = farm.client("technician")
    client.post(address(started, step), {"revision": 2, "photo": photo})
    with farm.scope():
        kept = LinePhoto.objects.get()
    assert (kept.line.duty, kept.taken_by) == (belt, farm.technician)
    assert reverse("media", args=[kept.image.name]) in client.get(address(started, step)).content.decode()
    no_photo = SimpleUploadedFile("x.png", b"<svg/>")
    answer = client.post(address(started, step), {"revision": 3, "photo": no_photo}, follow=True)
    assert "This file is not a photo" in answer.content.decode()
    with farm.scope():
        assert LinePhoto.objects.count() == 1
