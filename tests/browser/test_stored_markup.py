"""Markup that a manager stored, looked at by an owner: it is text, and nothing acts on it."""

import re

import pytest
from playwright.sync_api import Page, expect

from fixtures.demo.people import PASSWORD
from tests.browser.inside import inside

pytestmark = [pytest.mark.browser, pytest.mark.security]

# As it was done: the passing word of a safety check, once that check had failed on a machine tagged out.
ATTACK = (
    '<form hx-post=/people/{person}/ hx-trigger=load hx-vals=\'{{"role":"owner","active":"on"}}\'></form>'
)
PLANT = """
from django_scopes import scope
from fleet.machines import tag_outs
from fleet.models import Member, Machine, SentFile
from servicing.models import Check, Line, SafetyFailure
with_everything = Member._base_manager.select_related("organisation", "user")
manager = with_everything.get(user__username="tomas")
owner = with_everything.get(user__username="orla")
word = ATTACK.format(person=manager.pk)
assert len(word) > 60
words = [{"value": word, "passes": True}, {"value": "fails", "passes": False}]
with scope(organisation=manager.organisation):
    line = Line.objects.filter(order__state="closed", duty__machine=None).first() or Line.objects.filter(
        order__state="closed").exclude(duty=None).first()
    check = Check.objects.exclude(results__line=line).first()
    machine = line.machine
    SafetyFailure.objects.create(
        organisation=manager.organisation, line=line, check_made=check, label="Brake", kind="function",
        choices=words, safety=True, found_word="fails", found_passes=False, machine=machine, order=line.order,
    )
    placed = machine.tag_outs.open().first() or tag_outs.place(machine=machine, reason=word, member=manager)
    sent = SentFile.objects.create(organisation=manager.organisation, name=word, look="CSV", state="running",
                                   rows=10, sent_by=manager, plan={})
print(manager.pk, placed.pk, sent.pk)
"""
ROLE = """
from fleet.models import Member
print(Member._base_manager.get(user__username="tomas").role)
"""


@pytest.fixture(scope="module")
def planted(site, data):
    """The ids of the manager, of the tag-out to be cleared, and of a file on its way in."""
    return inside(data, site, PLANT.replace("ATTACK", repr(ATTACK), 1)).split()


def watched(page: Page) -> list[str]:
    """Every address of which the page asks something but to look, and those it asks by script."""
    asked: list[str] = []
    page.on(
        "request",
        lambda request: (
            asked.append(f"{request.method} {request.url}")
            if request.method != "GET" or request.resource_type in {"xhr", "fetch"}
            else None
        ),
    )
    return asked


def test_the_word_of_a_check_does_not_make_its_writer_an_owner(door, site, data, planted):
    person, tag_out, _ = planted
    page = door.enter("orla")
    asked = watched(page)
    page.goto(f"/tag-outs/{tag_out}/clear/")
    expect(page.get_by_text(f"It passes at: <form hx-post=/people/{person}/")).to_be_visible()
    page.wait_for_timeout(1500)  # htmx would have sent it as soon as the page was there
    assert page.locator("[hx-post]").count() == 0
    assert page.evaluate("typeof window.htmx") == "undefined"
    assert asked == []
    assert inside(data, site, ROLE) == "manager"


def test_on_the_page_that_asks_by_itself_typed_markup_is_left_alone(door, site, data, planted):
    """Even where it got out of its text: in each place that shows what people typed, it does nothing."""
    person, _, sent = planted
    page = door.enter("orla")
    asked = watched(page)
    page.goto(f"/readings/files/{sent}/")
    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile("<form hx-post"))
    with page.expect_response(lambda answer: answer.url.endswith(f"/readings/files/{sent}/")):
        pass  # it does ask again by itself
    page.evaluate(
        """([markup, script]) => {
            for (const place of document.querySelectorAll("header.masthead, header.page-head")) {
                place.insertAdjacentHTML("beforeend", markup);
            }
            const progress = document.querySelector("#progress");
            progress.insertAdjacentHTML("beforeend", "<div hx-disable>" + markup + "</div>" + script);
            htmx.process(document.body);
        }""",
        [ATTACK.format(person=person), "<script>window.ran = true</script>"],
    )
    page.wait_for_timeout(1500)
    assert asked
    assert [each for each in asked if f"/readings/files/{sent}/" not in each] == []
    assert page.evaluate("window.ran") is None
    config = page.evaluate("htmx.config")
    assert [config[name] for name in ("allowEval", "allowScriptTags", "disableInheritance")] == [
        False,
        False,
        True,
    ]
    assert inside(data, site, ROLE) == "manager"


def test_a_request_in_the_owners_name_stops_at_the_password(door, site, data, planted):
    """What such markup would send, sent from a page of ours with the owner's session and token."""
    person, *_ = planted
    page = door.enter("orla")
    page.goto(f"/people/{person}/")
    status = page.evaluate(
        """async (address) => {
            const token = document.querySelector("[name=csrfmiddlewaretoken]").value;
            const body = new URLSearchParams({csrfmiddlewaretoken: token, role: "owner", active: "on"});
            return (await fetch(address, {method: "POST", body})).status;
        }""",
        f"/people/{person}/",
    )
    assert status == 422
    assert inside(data, site, ROLE) == "manager"


def test_the_owner_is_asked_once_and_goes_on(door, site, data, planted):
    page = door.enter("orla")
    page.goto(f"/people/{planted[0]}/")
    page.get_by_label("Technician: enters hours").check()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Type your password")
    page.get_by_label("Your password").fill("not this one")
    page.get_by_role("button", name="Continue").click()
    expect(page.get_by_role("alert")).to_contain_text("That isn't your password")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Continue").click()
    expect(page.get_by_role("status")).to_contain_text("is changed")
    assert inside(data, site, ROLE) == "technician"
    page.goto(f"/people/{planted[0]}/")
    page.get_by_label("Manager: machines, orders").check()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("status")).to_contain_text("is changed")
    assert inside(data, site, ROLE) == "manager"
