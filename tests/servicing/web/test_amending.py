"""The page that corrects a closed order, and the same over the API."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from servicing import workorders
from servicing.models import Amendment
from servicing.workorders import CheckEntry, Entries, LineEntry
from tests.factories import CheckFactory, DutyFactory, IntervalFactory, PartFactory

CLOSED = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
pytestmark = pytest.mark.time_machine(CLOSED, tick=False)


@pytest.fixture
def order(farm, machine, technician):
    """Closed by the technician: belt deflection 7.5 mm, limits 7 to 9 mm, at 1004 h."""
    duty = DutyFactory(machine=machine, mark_hours=Decimal(1000), task__title="Fan belt")
    IntervalFactory(task=duty.task)
    check = CheckFactory(
        task=duty.task, label="Belt deflection", unit="mm", lower=Decimal(7), upper=Decimal(9)
    )
    with farm.scope():
        order = workorders.plan(member=farm.manager, machine=machine, duties=[duty])
        order = workorders.start(order=order, member=farm.technician, revision=1)
        done = LineEntry(
            order.lines.get().pk, "done", note="All <b>well</b>.", checks=[CheckEntry(check.pk, "7.5")]
        )
        return workorders.close(
            order=order,
            member=farm.technician,
            revision=order.revision,
            entries=Entries(lines=[done], hours=Decimal(1004)),
        )


@pytest.fixture
def fields(farm, order):
    """What the page sends when nothing was changed on it but the value found."""
    with farm.scope():
        line = order.lines.get()
        check = f"lines-{line.pk}-checks-{line.task.checks.get().pk}"
    return {
        "revision": order.revision,
        "reason": "Looked at the wrong mark.",
        f"lines-{line.pk}-outcome": "done",
        f"lines-{line.pk}-note": "All <b>well</b>.",
        f"{check}-found": "8",
        f"{check}-found_unit": "mm",
        f"{check}-left_unit": "mm",
        "hours": "1004",
    }


def page_of(order):
    return reverse("order-amend", args=[order.pk])


def test_the_page_holds_what_the_order_says_and_keeps_both_versions(farm, order, fields, machine):
    browser = farm.client("technician")
    link = f'href="{page_of(order)}">Correct this order</a>'
    assert link in browser.get(order.get_absolute_url()).content.decode()
    page = browser.get(page_of(order)).content.decode()
    assert 'value="7.5"' in page
    assert 'name="hours" value="1004"' in page
    assert "Close the order" not in page

    answer = browser.post(page_of(order), fields, follow=True)
    assert answer.redirect_chain == [(order.get_absolute_url(), 302)]
    said = answer.content.decode()
    assert "Looked at the wrong mark." in said
    assert '<td data-label="It said">7.5 mm</td><td data-label="Corrected to">8 mm</td>' in said
    with farm.scope():
        assert Amendment.objects.get().made_by == farm.technician


def test_a_refused_correction_comes_back_with_what_was_typed_and_every_reason(farm, order, fields):
    check = next(name for name in fields if name.endswith("-found"))
    sent = {**fields, "reason": " ", check: "12", "further-0-quantity": "2"}
    answer = farm.client("manager").post(page_of(order), sent)
    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert set(errors) == {"reason", "further-0-part", check.replace("found", "left")}
    assert errors["reason"] == ["Say what was wrong."]
    assert 'value="12"' in answer.content.decode()


def test_a_correction_made_meanwhile_is_told_and_nothing_typed_is_lost(farm, order, fields):
    assert farm.client("technician").post(page_of(order), fields).status_code == 302
    check = next(name for name in fields if name.endswith("-found"))
    answer = farm.client("manager").post(page_of(order), {**fields, check: "8.25"})
    assert answer.status_code == 409
    assert 'value="8.25"' in answer.content.decode()
    with farm.scope():
        assert Amendment.objects.count() == 1


def test_the_page_turns_away_whoever_may_not(farm, stranger, order, time_machine):
    assert farm.client("counter").get(page_of(order)).status_code == 403
    assert stranger.client("owner").get(page_of(order)).status_code == 404
    time_machine.move_to(CLOSED + timedelta(hours=49))
    assert farm.client("technician").get(page_of(order)).status_code == 403
    seen = farm.client("technician").get(order.get_absolute_url()).content.decode()
    assert page_of(order) not in seen
    assert farm.client("manager").get(page_of(order)).status_code == 200


def test_an_open_order_leads_back_to_its_page(farm, machine):
    duty = DutyFactory(machine=machine)
    with farm.scope():
        order = workorders.plan(member=farm.manager, machine=machine, duties=[duty])
    answer = farm.client("manager").get(page_of(order), follow=True)
    assert answer.redirect_chain == [(order.get_absolute_url(), 302)]
    assert "only a closed order can be corrected" in answer.content.decode()


# ------------------------------------------------------------------ over the API


@pytest.fixture
def body(farm, order):
    with farm.scope():
        line = order.lines.get()
        check = {"check": line.task.checks.get().pk, "found": "8"}
    return {
        "revision": order.revision,
        "reason": "Looked at the wrong mark.",
        "lines": [{"line": line.pk, "outcome": "done", "note": "All <b>well</b>.", "checks": [check]}],
    }


def test_over_the_api_the_hours_may_be_left_out_and_the_versions_are_listed(farm, order, body):
    url = f"/api/v1/orders/{order.pk}"
    answer = farm.api("technician").post(f"{url}/amend", body)
    assert answer.status_code == 200
    assert answer.json()["corrected"] == 1
    assert answer.json()["hours_at_close"] == "1004.00"
    (correction,) = farm.api("counter").get(f"{url}/corrections").json()
    assert (correction["made_by"], correction["reason"]) == (str(farm.technician), body["reason"])
    assert correction["changes"] == [{"what": "Belt deflection, as found", "was": "7.5 mm", "now": "8 mm"}]
    assert correction["before"]["lines"][0]["results"][0]["as_found"] == "7.5 mm"


def test_over_the_api_a_bad_hour_and_a_bad_part_are_named_together(farm, order, body):
    with farm.scope():
        part = PartFactory(organisation=farm.organisation)
    sent = {**body, "hours": "900000", "parts": [{"part": part.pk, "quantity": "-1"}]}
    answer = farm.api("manager").post(f"/api/v1/orders/{order.pk}/amend", sent)
    assert answer.status_code == 422
    assert {error["pointer"] for error in answer.json()["errors"]} == {"#/parts/0/quantity", "#/hours"}


def test_over_the_api_a_stale_revision_and_a_late_technician_are_told(farm, order, body, time_machine):
    url = f"/api/v1/orders/{order.pk}/amend"
    stale = farm.api("manager").post(url, {**body, "revision": order.revision - 1})
    assert (stale.status_code, stale.json()["revision"]) == (409, order.revision)
    time_machine.move_to(CLOSED + timedelta(hours=48, seconds=1))
    late = farm.api("technician").post(url, body)
    assert late.status_code == 403
    assert "48 hours" in late.json()["detail"]
    nothing = farm.api("manager").post(url, {**body, "reason": ""})
    assert nothing.status_code == 422


def test_a_refused_correction_that_tags_out_says_so_on_the_page(farm, order, fields):
    with farm.scope():
        order.lines.get().task.checks.update(safety=True)
    check = next(name for name in fields if name.endswith("-found"))
    answer = farm.client("technician").post(page_of(order), {**fields, check: "12", "reason": ""})
    assert answer.status_code == 422
    assert "Do not use T-07 until it is cleared" in answer.content.decode()
