"""Parts and minutes, closed orders, steps and corrections ask the same."""

import json
from decimal import Decimal

import pytest
from django.urls import reverse

from servicing import workorders
from servicing.models import WorkOrder
from servicing.workorders import LabourEntry, PartEntry
from tests.factories import PartFactory, TechnicianFactory
from tests.sent_form import as_sent
from tests.servicing.web.meeting.desk import CHOOSE, NOW, VALUES, Desk, as_kept, closing, kept, record, typed

pytestmark = pytest.mark.time_machine(NOW, tick=False)


# ------------------------------------------------------------------ parts and minutes


@pytest.mark.parametrize("answer", ["mine", "theirs"])
def test_parts_and_minutes_are_asked_about_too(farm, started, bea, answer):
    with farm.scope():
        part = PartFactory(organisation=farm.organisation, name="V-belt", in_stock=Decimal(9))
        person = started.technician
    row = {"parts": [PartEntry(part.pk, Decimal(1))], "labour": [LabourEntry(person.pk, 30)]}
    record(farm, bea, started, **row)
    desk = Desk(farm, "technician", closing(started))
    row = {"parts": [PartEntry(part.pk, Decimal(2))], "labour": [LabourEntry(person.pk, 40)]}
    record(farm, bea, started, **row)
    fields = (f"parts-{part.pk}-quantity", f"labour-{person.pk}-minutes")
    assert desk.press(**dict(zip(fields, ("3", "0:50"), strict=True))) == 409
    assert as_sent(desk.page)["asked"] == list(fields)
    assert desk.asks(fields[1]) == ["40 min (recorded meanwhile)", "0:50 min (yours, as above)"]
    assert desk.press(**{f"stands-{name}": answer for name in fields}) == 302
    with farm.scope():
        used, spent = started.parts.get().quantity, started.labour.get().minutes
    assert (used, spent) == ((3, 50) if answer == "mine" else (2, 40))


def test_a_part_and_a_helper_that_somebody_added_are_kept(farm, started, names, bea):
    helper = TechnicianFactory(member=farm.owner)
    with farm.scope():
        part = PartFactory(organisation=farm.organisation, name="V-belt", in_stock=Decimal(9))
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, parts=[PartEntry(part.pk, Decimal(2))], labour=[LabourEntry(helper.pk, 40)])
    assert desk.press(**{names["note"]: "warm"}) == 409
    assert desk.press() == 302
    with farm.scope():
        assert started.parts.get().quantity == 2
        assert started.labour.get().minutes == 40


def test_what_the_tasks_ask_for_is_no_entry_of_mine(farm, duty, started, names, bea):
    with farm.scope():
        part = PartFactory(organisation=farm.organisation, unit="L", in_stock=Decimal(9))
        duty.task.supplies.create(organisation=farm.organisation, part=part, quantity=Decimal("4.5"))
    desk = Desk(farm, "technician", closing(started))
    assert as_sent(desk.page)[f"parts-{part.pk}-quantity"] == ["4.5"]
    record(farm, bea, started, parts=[PartEntry(part.pk, Decimal(4))])
    assert desk.press(**{names["note"]: "warm"}) == 409
    assert "asked" not in as_sent(desk.page)
    assert desk.press() == 302
    with farm.scope():
        assert started.parts.get().quantity == 4


# ------------------------------------------------------------------ an order that takes nothing more


def test_on_a_closed_order_both_values_are_shown_and_nothing_is_asked(farm, started, names, bea):
    desk = Desk(farm, "technician", closing(started))
    with farm.scope():
        workorders.hold(order=started, member=bea, revision=2, reason="Belt ordered")
        again = workorders.resume(order=WorkOrder.objects.get(), member=bea, revision=3)
    record(farm, bea, again, found="7.1")
    with farm.scope():
        workorders.hold(order=started, member=bea, revision=5, reason="Belt ordered")
    assert desk.press(**{names["found"]: "7.4"}) == 409
    assert desk.asks(names["found"]) == []
    assert "7.1 mm, recorded by Bea Lund, Mon 4 May, 12:00. You typed: 7.4 mm." in desk.page
    assert kept(farm, started)["found"] == "7.1 mm"


def step_of(farm, order):
    page = farm.client("technician").get(reverse("order-steps", args=[order.pk]))
    number = next(each.number for each, _ in page.context["overview"])
    return f"{reverse('order-steps', args=[order.pk])}?step={number}"


# ------------------------------------------------------------------ the steps, and corrections


@pytest.mark.parametrize("answer", ["mine", "theirs"])
@pytest.mark.parametrize("what", VALUES)
def test_a_step_without_scripts_asks_the_same(farm, started, names, bea, what, answer):
    mine, theirs, _, _ = VALUES[what]
    desk = Desk(farm, "technician", step_of(farm, started))
    record(farm, bea, started, **{what: theirs})
    assert desk.press(**typed(names, what, mine)) == 409
    assert len(desk.asks(names[what])) == 2
    assert desk.press() == 409
    assert CHOOSE in desk.page
    assert kept(farm, started)[what] == as_kept(what, theirs)
    assert desk.press(**{f"stands-{names[what]}": answer}) == 302
    assert kept(farm, started)[what] == as_kept(what, mine if answer == "mine" else theirs)


def test_a_step_takes_what_was_not_changed_on_it(farm, started, names, bea):
    record(farm, bea, started, found="7.3", note="cold")
    desk = Desk(farm, "technician", step_of(farm, started))
    record(farm, bea, started, found="7.1", note="cold")
    assert desk.press(**{names["note"]: "warm"}) == 409
    assert "asked" not in as_sent(desk.page)
    assert desk.press() == 302
    assert kept(farm, started) == {"outcome": "", "left": "", "found": "7.1 mm", "note": "warm"}


@pytest.mark.parametrize("answer", ["mine", "theirs"])
def test_two_who_correct_a_closed_order_are_asked(farm, started, names, bea, answer):
    desk = Desk(farm, "technician", closing(started))
    assert desk.press("close", **{names["found"]: "7.3", names["outcome"]: "done", "hours": "1004"}) == 302
    url = reverse("order-amend", args=[started.pk])
    first, second = Desk(farm, "manager", url), Desk(farm, "owner", url)
    assert first.press(**{names["found"]: "7.1", "hours": "1005", "reason": "misread"}) == 302
    assert second.press(**{names["found"]: "7.4", "hours": "1006", "reason": "misread"}) == 409
    assert as_sent(second.page)["asked"] == [names["found"], "hours"]
    assert second.press() == 409
    stands = {f"stands-{names['found']}": answer, "stands-hours": answer}
    if answer == "theirs":  # nothing is left to correct, and the page says so
        assert second.press(**stands) == 422
        assert "Nothing has changed" in second.page
    else:
        assert second.press(**stands) == 302
    assert kept(farm, started)["found"] == ("7.4 mm" if answer == "mine" else "7.1 mm")
    with farm.scope():
        assert WorkOrder.objects.get().hours_at_close == (1006 if answer == "mine" else 1005)


def test_what_the_page_carries_is_what_is_recorded(farm, started, names, bea):
    record(farm, bea, started, found="7.1", note='say "no"\n<b>', outcome="done")
    desk = Desk(farm, "technician", closing(started))
    assert json.loads(as_sent(desk.page)["shown"][0]) == {
        names["found"]: "7.1",
        f"{names['found']}_unit": "mm",
        names["note"]: 'say "no"\n<b>',
        names["outcome"]: "done",
    }
