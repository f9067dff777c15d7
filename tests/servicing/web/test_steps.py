"""An order step by step, as a browser without JavaScript sees it, and what the page tells its scripts."""

import json
import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from fleet.models import TagOut
from servicing import workorders
from servicing.models import CheckResult, Duty, LinePhoto, WorkOrder
from tests.factories import (
    CheckFactory,
    DutyFactory,
    IntervalFactory,
    MachineFactory,
    PartFactory,
    ReadingFactory,
    TechnicianFactory,
)

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def frozen():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def machine(farm):
    machine = MachineFactory(
        organisation=farm.organisation, yard=farm.yard, tag="T-07", hours=Decimal(1000), hours_at=NOW
    )
    ReadingFactory(machine=machine, taken_at=NOW - timedelta(days=10), shows=Decimal(1000))
    return machine


@pytest.fixture
def belt(farm, machine):
    """Three instructions, a caution before the second, one measured check."""
    duty = DutyFactory(machine=machine, mark_hours=Decimal(1000), task__title="Fan belt")
    task = duty.task
    task.steps = ["Take the guard off.", "Press in the middle.", "Measure how far it gives."]
    task.prepare = ["Key out."]
    task.save()
    ours = {"organisation": machine.organisation}
    with farm.scope():
        task.cautions.create(hazard="pinch", text="Fan and belt pinch.", before_step=2, **ours)
        task.tools.create(tool="steel rule", **ours)
    IntervalFactory(task=task)
    CheckFactory(task=task, label="Belt deflection", unit="mm", lower=Decimal(7), upper=Decimal("7.62"))
    return duty


@pytest.fixture
def brake(machine):
    """One instruction, one safety check in words."""
    duty = DutyFactory(machine=machine, mark_hours=Decimal(1000), task__title="Parking brake")
    duty.task.steps = ["Set the brake on the slope."]
    duty.task.save()
    IntervalFactory(task=duty.task)
    words = {"kind": "function", "unit": "", "lower": None, "upper": None}
    CheckFactory(task=duty.task, label="Brake holds", safety=True, **words)
    return duty


@pytest.fixture
def started(farm, machine, belt, brake):
    TechnicianFactory(member=farm.technician)
    with farm.scope():
        order = workorders.plan(member=farm.manager, machine=machine, duties=[belt, brake])
        return workorders.start(order=order, member=farm.technician, revision=1)


def address(order, step=1):
    return f"{reverse('order-steps', args=[order.pk])}?step={step}"


def now(farm, order):
    with farm.scope():
        return WorkOrder.objects.get(pk=order.pk)


def names(farm, order, duty):
    """The names of the fields of a duty's line and of its one check."""
    with farm.scope():
        line = order.lines.get(duty=duty)
        return f"lines-{line.pk}", f"lines-{line.pk}-checks-{line.task.checks.get().pk}"


def visible(page):
    """The one section that is not hidden."""
    sections = re.findall(r'<section class="work-step".*?</section>', page, re.S)
    seen = [each for each in sections if " hidden>" not in each.split("\n")[0]]
    assert len(seen) == 1
    return seen[0]


def step_of(farm, order, duty):
    """The number of the step that asks for a duty's entries."""
    page = farm.client("technician").get(address(order))
    return next(each.number for each, _ in page.context["overview"] if each.row.line.duty_id == duty.pk)


# ------------------------------------------------------------------ what a step shows


def test_each_step_fills_a_screen_with_its_caution_before_it(farm, started, belt, brake):
    client = farm.client("technician")
    first = client.get(address(started))
    assert first.context["last"] == 6, "get ready, three of the belt, one of the brake, the end"
    assert "steel rule" in visible(first.content.decode())
    last = step_of(farm, started, belt)
    for number, told, cautioned in (
        (last - 2, "Take the guard off.", 0),
        (last - 1, "Press in the middle.", 1),
    ):
        section = visible(client.get(address(started, number)).content.decode())
        assert told in section
        assert section.count("Fan and belt pinch.") == cautioned
        assert f"Step {number} of 6" in section
    assert section.index("Fan and belt pinch.") < section.index("Press in the middle.")
    section = visible(client.get(address(started, last)).content.decode())
    assert section.index("7 to 7.62 mm") < section.index('name="' + names(farm, started, belt)[1] + '-found"')
    assert "Photo" in section
    assert 'autocapitalize="sentences"' in section


@pytest.mark.parametrize("asked", ["0", "99", "x", "²", "-1", "1" * 5000])
def test_an_unknown_step_shows_a_known_one(farm, started, asked):
    answer = farm.client("technician").get(reverse("order-steps", args=[started.pk]), {"step": asked})
    assert answer.context["current"].number == (6 if asked == "99" else 1)


ROLES = [("owner", 200), ("manager", 200), ("technician", 200), ("counter", 403)]


@pytest.mark.parametrize(("role", "status"), ROLES)
def test_who_may_open_it(farm, started, role, status):
    assert farm.client(role).get(address(started)).status_code == status


def test_a_stranger_finds_nothing(farm, stranger, started):
    assert stranger.client("owner").get(address(started)).status_code == 404
    assert stranger.client("owner").post(address(started, 2), {"revision": 2}).status_code == 404
    assert now(farm, started).revision == 2


def test_an_order_that_is_not_started_has_no_steps_yet(farm, machine, belt):
    with farm.scope():
        planned = workorders.plan(member=farm.manager, machine=machine, duties=[belt])
    answer = farm.client("technician").get(address(planned), follow=True)
    assert answer.redirect_chain == [(planned.get_absolute_url(), 302)]
    assert "start it first" in answer.content.decode()


def test_a_closed_order_still_opens_so_that_what_was_typed_on_a_phone_is_seen(farm, started):
    with farm.scope():
        workorders.park(order=started, member=farm.manager, revision=2, reason="Belt ordered.")
    page = farm.client("technician").get(address(started, 4)).content.decode()
    assert "It is parked: Belt ordered." in page
    assert "Close the order" not in page


def test_bench_and_the_order_lead_to_it(farm, started):
    for page in (reverse("bench"), started.get_absolute_url()):
        html = farm.client("technician").get(page).content.decode()
        assert f'href="{reverse("order-steps", args=[started.pk])}">Work step by step</a>' in html


def test_it_asks_the_same_number_of_queries_for_one_line_and_for_three(farm, machine, belt, brake, started):
    client = farm.client("technician")
    client.get(address(started))
    with CaptureQueriesContext(connection) as two:
        client.get(address(started))
    with farm.scope():
        workorders.withdraw(order=started, member=farm.manager, revision=2, reason="again")
        duties = [Duty.objects.get(pk=belt.pk)]
        order = workorders.plan(member=farm.manager, machine=machine, duties=duties)
        one = workorders.start(order=order, member=farm.technician, revision=1)
    with CaptureQueriesContext(connection) as single:
        client.get(address(one))
    assert len(single) == len(two)


# ------------------------------------------------------------------ what is entered


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
    [("No belt", "No belt. Go on"), ("No belt! ", "No belt! Go on"), ("No belt.", "No belt. Go on")],
)
def test_what_a_person_wrote_ends_before_the_next_sentence_begins(farm, started, written, told):
    member = farm.technician
    workorders.park(order=started, reason=written, member=member, revision=started.revision)
    assert told in farm.client("technician").get(address(started)).content.decode()


def test_left_needs_a_reason_and_a_new_day_and_stays_on_today(farm, started, belt, brake):
    step, (line, _) = step_of(farm, started, belt), names(farm, started, belt)
    client = farm.client("technician")
    answer = client.post(address(started, step), {"revision": 2, f"{line}-outcome": "left"})
    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == {f"{line}-reason", f"{line}-put_off_until"}
    sent = {
        "revision": 2,
        f"{line}-outcome": "left",
        f"{line}-reason": "No belt in stock",
        f"{line}-put_off_until": "2026-05-20",
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
    assert (left.put_off_until, left.put_off_reason) == (date(2026, 5, 20), "No belt in stock")
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
    assert "This file is no photo" in answer.content.decode()
    with farm.scope():
        assert LinePhoto.objects.count() == 1


def test_the_service_worker_comes_from_the_root_and_is_asked_for_anew(farm, client):
    answer = client.get("/service-worker.js")
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/javascript")
    assert answer["Cache-Control"] == "no-cache"
    assert b'addEventListener("fetch"' in b"".join(answer.streaming_content)


def test_what_waits_is_left_and_gone_back_to(farm, machine):
    TechnicianFactory(member=farm.technician)
    drain = DutyFactory(machine=machine, task__title="Drain", task__minutes=10, task__wait_minutes=60)
    wipe = DutyFactory(machine=machine, task__title="Wipe", task__minutes=10)
    for duty in (drain, wipe):
        IntervalFactory(task=duty.task)
    with farm.scope():
        order = workorders.plan(member=farm.manager, machine=machine, duties=[wipe, drain])
        order = workorders.start(order=order, member=farm.technician, revision=1)
    client = farm.client("technician")
    first, then = step_of(farm, order, drain), step_of(farm, order, wipe)
    assert (first, then) == (2, 3), "what waits begins"
    section = visible(client.get(address(order, first)).content.decode())
    assert "This takes 60 min by itself: go on meanwhile" in section
    section = visible(client.get(address(order, then)).content.decode())
    assert f'in 50 min and finish <a href="?step={first}" data-go="{first}">Drain</a>' in section


def test_what_waits_in_the_middle_is_begun_left_and_finished_around_other_work(farm, machine):
    """Drain, then wipe meanwhile, then fit the plug: the steps lead there and back by themselves."""
    TechnicianFactory(member=farm.technician)
    facts = {"task__minutes": 10, "task__wait_minutes": 60, "task__waits_after": 1}
    drain = DutyFactory(
        machine=machine, task__title="Drain", task__steps=["Open the plug.", "Fit it."], **facts
    )
    wipe = DutyFactory(machine=machine, task__title="Wipe", task__steps=["Wipe."], task__minutes=10)
    for duty in (drain, wipe):
        IntervalFactory(task=duty.task)
    with farm.scope():
        order = workorders.plan(member=farm.manager, machine=machine, duties=[wipe, drain])
        order = workorders.start(order=order, member=farm.technician, revision=1)
    client = farm.client("technician")
    shown = [visible(client.get(address(order, number)).content.decode()) for number in range(2, 5)]
    assert [re.search(r'class="work-do">([^<]*)', each)[1] for each in shown] == [
        "Open the plug.",
        "Wipe.",
        "Fit it.",
    ]
    assert "Now it takes 60 min by itself.</b> Go on with the next task" in shown[0]
    assert "What came of it" not in shown[0]
    assert "go back" not in shown[1]
    assert "<b>Back to Drain.</b> It wants 50 min more by itself first." in shown[2]
    assert step_of(farm, order, drain) == 4, "asked about at its end"


def test_what_waits_alone_says_so_at_its_step(farm, machine):
    facts = {"task__wait_minutes": 15, "task__waits_after": 1, "task__steps": ["Open the plug.", "Fit it."]}
    drain = DutyFactory(machine=machine, task__minutes=10, **facts)
    IntervalFactory(task=drain.task)
    with farm.scope():
        order = workorders.plan(member=farm.manager, machine=machine, duties=[drain])
        order = workorders.start(order=order, member=farm.technician, revision=1)
    client = farm.client("technician")
    assert "Wait, then go on." in visible(client.get(address(order, 2)).content.decode())
    assert "Wait, then go on." not in visible(client.get(address(order, 3)).content.decode())
