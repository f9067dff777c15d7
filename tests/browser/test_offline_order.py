"""A technician finishes an order where there is no line, while somebody else works on the same order."""

import re
from datetime import UTC, datetime
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.browser.own_machines import TRACTORS
from tests.browser.phone import sign_in
from tests.browser.steps import BRAKES, done, heading, machines, mark, number, open_machine, re_test
from tests.browser.test_axe import wrong

pytestmark = pytest.mark.browser

PATIENCE = 30_000  # milliseconds
KEPT = re.compile("Works without signal")
SIGNS_KEPT = """caches.match(
    document.querySelector('use[href*="hazards.svg"]').getAttribute("href").split("#")[0],
    { cacheName: "hourmark-kept-1", ignoreVary: true },
  ).then(Boolean)"""


def order_brakes_and_a_fault(page: Page) -> tuple[str, str]:
    """As a manager, start an order of the brake check and of a fault; return (its path, the tag)."""
    for tag in machines(page, TRACTORS):
        open_machine(page, tag)
        machine = page.url
        page.get_by_role("link", name="Make an order").click()
        if page.locator("label.choice", has_text=BRAKES).count():
            break
    else:
        raise AssertionError("no ready tractor has its brake check free")
    page.goto(machine)
    page.get_by_role("link", name="Report a fault").click()
    page.get_by_label("What is wrong").fill("Lamp glass cracked")
    page.get_by_label("Can wait for the next service").check()
    page.get_by_role("button", name="Report the fault").click()
    page.goto(machine)
    page.get_by_role("link", name="Make an order").click()
    for later in page.locator("details.more > summary").all():
        later.click()
    for each in page.get_by_role("checkbox").all():
        each.set_checked(False)
    for wanted in (BRAKES, "Lamp glass cracked"):
        page.locator("label.choice", has_text=wanted).get_by_role("checkbox").first.check()
    page.get_by_label("Technician").select_option(label="Niko Faro")
    page.get_by_label(re.compile("^Planned for")).fill(f"{datetime.now(UTC):%Y-%m-%d}")
    page.get_by_role("button", name="Make the order").click()
    done(page, "is planned")
    page.get_by_role("button", name="Start").click()
    done(page, f"{tag} is in the shop")
    return urlsplit(page.url).path, tag


def go_to(page: Page, task: str) -> None:
    """Open a task's entries by way of the list of all tasks."""
    page.get_by_text("All tasks,").click()
    page.get_by_role("link", name=task).click()
    expect(page.locator(".work-step:visible h2")).to_contain_text(task)


def value(page: Page, check: str, moment: str):
    """Return the place for a value of a check, `as found` or `as left`."""
    return (
        page.locator(".work-step:visible").get_by_role("group", name=re.compile(check)).get_by_label(moment)
    )


def outcome(page: Page, word: str) -> None:
    page.locator(".work-step:visible").get_by_label(word, exact=True).check()


def fill_in_brakes(page: Page) -> None:
    value(page, "Left brake pedal", "as found").fill("36")
    value(page, "Left brake pedal", "as left").fill("25")
    value(page, "Right brake pedal", "as found").fill("24")
    value(page, "Difference between left and right", "as found").fill("2")
    mark(page, "Parking brake holds", "as found", "passes")
    outcome(page, "Adjusted")
    page.locator(".work-step:visible").get_by_label("Note").fill("Rod thread worn")


def save_meanwhile(page: Page, order: str, found: str) -> None:
    """As somebody at a desk, enter other things for the same order, and save them."""
    page.goto(order)
    page.get_by_role("link", name="Enter what was done").click()
    page.get_by_role("group", name=re.compile("Left brake pedal")).get_by_label("as found").fill(found)
    lamp = page.locator("[data-line]", has=page.get_by_role("heading", name=re.compile("Lamp glass")))
    lamp.get_by_text("Deferred, referred, or a note").click()
    lamp.get_by_label("Note").fill("Glass is ordered")
    page.get_by_role("button", name="Save for later").click()
    done(page, "is saved")


def cancel(page: Page, order: str, why: str) -> None:
    page.goto(order)
    page.get_by_text("Cancel this order:").click()
    page.locator("details[open] textarea").fill(why)
    page.get_by_role("button", name="Cancel the order").click()
    done(page, "is cancelled")


def status(page: Page):
    return page.locator("[data-status]")


def test_an_order_is_finished_without_a_line_and_two_people_meet_in_it(door, phone, photo, browser):
    desk = door.enter("tomas")
    order, tag = order_brakes_and_a_fault(desk)

    page = phone.open(line=True)
    sign_in(page, "niko")
    page.goto(order)
    page.get_by_role("link", name="Work step by step").click()
    expect(status(page)).to_have_text(KEPT)

    phone.cut()
    page.get_by_role("link", name="Begin").click()
    go_to(page, BRAKES)
    fill_in_brakes(page)
    page.locator(".work-step:visible input[type=file]").set_input_files(photo)
    expect(page.locator(".work-step:visible")).to_contain_text("Photo kept on this phone (hose.jpg)")
    expect(status(page)).to_contain_text("Kept on this phone")
    assert wrong(page, Axe()) == []
    page.locator(".work-step:visible").get_by_role("button", name="Save, next").click()
    here = page.url

    # The browser is closed and opened again, still without a line.
    phone.close()
    page = phone.open(line=False)
    assert page.goto(here).from_service_worker
    assert page.evaluate("fetch('/health/web').then(() => 'a line', () => 'no line')") == "no line"
    expect(status(page)).to_contain_text("sent when you have signal")
    go_to(page, BRAKES)
    expect(value(page, "Left brake pedal", "as found")).to_have_value("36")
    expect(page.locator(".work-step:visible").get_by_label("Note")).to_have_value("Rod thread worn")
    expect(page.locator(".work-step:visible").get_by_label("Adjusted", exact=True)).to_be_checked()
    expect(page.locator(".work-step:visible")).to_contain_text("Photo kept on this phone (hose.jpg)")
    go_to(page, "Lamp glass cracked")
    outcome(page, "Done")
    page.locator(".work-step:visible").get_by_label("Note").fill("New lamp fitted")

    save_meanwhile(desk, order, "22")

    page.get_by_text("All tasks,").click()
    page.get_by_role("link", name="Hours, time and parts").click()
    meter = number(page.get_by_text("the meter showed").inner_text())
    page.get_by_label("The hour meter shows").fill(str(meter))
    page.get_by_label("Niko Faro").fill("25")
    page.get_by_role("button", name="Close the order").click()
    expect(status(page)).to_contain_text("closes as soon as you have signal")

    # The line is back: both what the other recorded and what was typed here are shown.
    phone.join()
    differ = page.locator(".work-differ")
    expect(differ).to_contain_text("Tomas")
    brakes = differ.locator(".work-clash", has_text=BRAKES)
    row = brakes.get_by_role("row").filter(has_text="Left brake pedal free play, as found")
    expect(row).to_contain_text("22 mm")
    expect(row).to_contain_text("36 mm")
    lamp = differ.locator(".work-clash", has_text="Lamp glass")
    expect(lamp).to_contain_text("Glass is ordered")
    expect(lamp).to_contain_text("New lamp fitted")
    assert wrong(page, Axe()) == []
    brakes.get_by_role("button", name="Replace with mine").click()
    lamp.get_by_role("button", name="Keep theirs").click()

    # Theirs says nothing of what came of the lamp: the house asks, and what was given up can still be read.
    expect(page.locator(".work-step:visible h2")).to_contain_text("Lamp glass cracked")
    expect(page.locator(".work-step:visible")).to_contain_text("Not accepted: Choose an outcome.")
    outcome(page, "Done")
    page.locator(".work-step:visible").get_by_role("button", name="Save, next").click()
    expect(page.locator(".work-step:visible [data-aside]")).to_contain_text("New lamp fitted")
    page.get_by_role("button", name="Close the order").click()
    page.wait_for_url(f"**{order}")
    expect(page.locator(".state", has_text="closed").first).to_be_visible()

    # The desk sees it too: the value that went on top, its own note, the photo, and who closed it.
    desk.goto(order)
    measured = desk.get_by_role("row").filter(has_text="Left brake pedal free play")
    expect(measured).to_contain_text("36 mm")
    expect(measured).to_contain_text("25 mm")
    expect(desk.locator("main")).to_contain_text("Rod thread worn")
    expect(desk.locator("main")).to_contain_text("Glass is ordered")
    expect(desk.locator("main")).to_contain_text("Niko Faro")
    expect(desk.get_by_role("link", name=re.compile("^Photo"))).to_have_count(1)
    assert tag in heading(desk)


def test_an_order_closed_meanwhile_takes_nothing_more_and_nothing_typed_is_lost(door, phone):
    desk = door.enter("tomas")
    order, _ = order_brakes_and_a_fault(desk)
    page = phone.open(line=True)
    sign_in(page, "niko")
    page.goto(f"{order}steps/")
    expect(status(page)).to_have_text(KEPT)
    assert page.evaluate(SIGNS_KEPT)
    phone.cut()
    go_to(page, BRAKES)
    fill_in_brakes(page)

    cancel(desk, order, "The tractor is sold")

    phone.join()
    page.locator(".work-step:visible").get_by_role("button", name="Save, next").click()
    clash = page.locator(".work-clash", has_text=BRAKES)
    expect(page.locator(".work-differ")).to_contain_text("it was cancelled (The tractor is sold)")
    expect(clash).to_contain_text("36 mm")
    expect(clash).to_contain_text("Rod thread worn")
    expect(clash.get_by_role("button", name="Replace with mine")).to_have_count(0)
    page.reload()
    expect(page.locator(".work-clash", has_text=BRAKES)).to_contain_text("Rod thread worn")
    page.locator(".work-clash").get_by_role("button", name="Keep theirs").click()
    page.get_by_text("All tasks,").click()
    page.get_by_role("link", name="Hours, time and parts").click()
    expect(page.locator("[data-aside]")).to_contain_text("Rod thread worn")

    # Who signs out takes the pages along; the phone may be another's tomorrow.
    assert page.evaluate("caches.has('hourmark-kept-1')")
    page.goto("/")
    page.locator(".menu summary").click()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_label("Name or mail address")).to_be_visible()
    assert not page.evaluate("caches.has('hourmark-kept-1')")


def test_a_failed_safety_check_is_said_at_once_and_tags_out_when_the_step_is_left(door):
    desk = door.enter("tomas")
    order, tag = order_brakes_and_a_fault(desk)
    page = door.enter("niko", phone=True)
    page.goto(f"{order}steps/")
    go_to(page, BRAKES)

    # NIST SP 811: 1 in = 25.4 mm exactly, so the limit of 30 mm lies between these two
    left = page.locator(".work-step:visible").get_by_role("group", name=re.compile("Left brake pedal"))
    left.get_by_label("Unit").first.select_option(label="in")
    for typed, said in (("1.181102", "Within limits."), ("1.181103", "Outside limits.")):
        value(page, "Left brake pedal", "as found").fill(typed)
        expect(left.locator("[data-verdict]")).to_have_text(said)
    mark(page, "Parking brake holds", "as found", "fails")
    brake = page.locator(".work-step:visible").get_by_role("group", name=re.compile("Parking brake"))
    expect(brake.locator("[data-verdict]")).to_contain_text("Stop: hang the tag and take the key.")
    page.locator(".work-step:visible").get_by_role("button", name="Save, next").click()
    expect(page.locator("[data-tag-outs]")).to_contain_text("tagged out")
    expect(status(page)).to_contain_text("All sent")

    desk.goto(order)
    expect(desk.locator(".state", has_text="started").first).to_be_visible()
    expect(desk.locator(".verdict-stop")).to_contain_text(
        "check failed: Parking brake holds on the slope: fails"
    )
    row = desk.get_by_role("row").filter(has_text="Left brake pedal free play")
    expect(row).to_contain_text("1.181103 in")
    expect(row).to_contain_text("outside limits")
    desk.get_by_role("link", name="Clear it").click()
    re_test(desk, "fails")
    desk.get_by_label(re.compile("^What was done")).fill("Linings changed")
    desk.get_by_role("button", name="Clear it in my name").click()
    expect(desk.get_by_role("alert")).to_contain_text("This still fails (fails): it stays tagged out.")
    re_test(desk, "passes")
    desk.get_by_role("button", name="Clear it in my name").click()
    done(desk, f"{tag} is cleared")
    cancel(desk, order, "Shown enough")  # the tractor is free again for the next walk
