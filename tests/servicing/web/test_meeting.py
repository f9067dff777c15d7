"""Two people write into one order: whose value stands is asked, never guessed. As without JavaScript."""

import json
import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from fleet.models import Member, TagOut
from servicing import workorders
from servicing.models import CheckResult, SafetyFailure, WorkOrder
from servicing.workorders import CheckEntry, LabourEntry, LineEntry, PartEntry
from tests.factories import (
    CheckFactory,
    DutyFactory,
    IntervalFactory,
    MachineFactory,
    MemberFactory,
    PartFactory,
    ReadingFactory,
    TechnicianFactory,
)
from tests.sent_form import as_sent

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
LATER = NOW + timedelta(minutes=5)  # 12:05 on the yard's wall
CHOOSE = "Choose which stands."


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOW, tick=False) as travelled:
        yield travelled


@pytest.fixture
def duty(farm):
    machine = MachineFactory(
        organisation=farm.organisation, yard=farm.yard, tag="T-07", hours=Decimal(1000), hours_at=NOW
    )
    ReadingFactory(machine=machine, taken_at=NOW - timedelta(days=10), shows=Decimal(1000))
    duty = DutyFactory(machine=machine, mark_hours=Decimal(1000), task__title="Fan belt")
    IntervalFactory(task=duty.task)
    CheckFactory(task=duty.task, label="Belt deflection", unit="mm", lower=Decimal(7), upper=Decimal("7.62"))
    return duty


@pytest.fixture
def started(farm, duty):
    TechnicianFactory(member=farm.technician)
    with farm.scope():
        order = workorders.plan(member=farm.manager, machine=duty.machine, duties=[duty])
        return workorders.start(order=order, member=farm.technician, revision=1)


@pytest.fixture
def bea(farm):
    """The other person, with a name to be read on pages."""
    bea = MemberFactory(organisation=farm.organisation, role=Member.Role.MANAGER)
    bea.user.first_name, bea.user.last_name = "Bea", "Lund"
    bea.user.save()
    return bea


@pytest.fixture
def names(farm, started):
    """The names of the fields that can be met, by what they are called here."""
    with farm.scope():
        line = started.lines.get()
        check = line.task.checks.get().pk
    at = f"lines-{line.pk}"
    return {
        "outcome": f"{at}-outcome",
        "reason": f"{at}-reason",
        "until": f"{at}-put_off_until",
        "note": f"{at}-note",
        "found": f"{at}-checks-{check}-found",
        "left": f"{at}-checks-{check}-left",
    }


def record(farm, member, order, *, parts=(), labour=(), **values):
    """Record these values as another person does, from a page of the order as it is now."""
    with farm.scope():
        order = WorkOrder.objects.get(pk=order.pk)
        line = order.lines.get()
        check = CheckEntry(
            line.task.checks.get().pk, values.get("found", ""), "mm", values.get("left", ""), "mm"
        )
        entry = LineEntry(
            line.pk,
            values.get("outcome", ""),
            values.get("reason", ""),
            values.get("until"),
            values.get("note", ""),
            [check],
        )
        entries = workorders.Entries(lines=[entry], parts=parts, labour=labour)
        return workorders.record(order=order, member=member, revision=order.revision, entries=entries)


def kept(farm, order):
    """What the record says."""
    with farm.scope():
        line = order.lines.get()
        result = CheckResult.objects.filter(line=line).first()
        return {
            "outcome": line.outcome,
            "note": line.note,
            "found": result.as_found if result else "",
            "left": result.as_left if result else "",
        }


class Desk:
    """A browser without JavaScript on one page of an order."""

    def __init__(self, house, role, url):
        self.client, self.url = house.client(role), url
        self.answer = self.client.get(url)
        assert self.answer.status_code == 200

    @property
    def page(self):
        return self.answer.content.decode().replace("\xa0", " ").replace("\u202f", " ")

    def press(self, button="save", **typed):
        """Type into the page's form as it stands and press a button."""
        sent = as_sent(self.page, holding=next(iter(typed), ""))
        sent |= {name: [value] for name, value in typed.items()} | {button: ["yes"]}
        self.answer = self.client.post(self.url, sent)
        return self.answer.status_code

    def asks(self, name):
        """The words of the two answers, where the page asks which value of a field stands; else []."""
        radio = rf'<input type="radio" name="stands-{name}" value="\w+"[^>]*>\s*([^<]*)<'
        found = re.findall(radio, self.page)
        return [each.strip() for each in found]


def closing(order):
    return reverse("order-close", args=[order.pk])


# mine and theirs of each field, and a third; what was recorded when the page was made
VALUES = {
    "found": ("7.4", "7.1", "7.2", "7.3"),
    "left": ("7.4", "7.1", "7.2", "7.3"),
    "note": ("checked warm", "checked cold", "checked twice", "to be checked"),
    "outcome": ("referred", "adjusted", "done", "done"),
}
MORE = {"outcome": {"reason": "to the dealer"}}


def typed(names, what, value):
    more = {names[name]: said for name, said in MORE.get(what, {}).items()} if value == "referred" else {}
    return {names[what]: value} | more


def said(what, value):
    if what == "outcome":
        return value.capitalize() + (": to the dealer" if value == "referred" else "")
    return value if what == "note" else f"{value} mm"


def as_kept(what, value):
    return f"{value} mm" if value and what in ("found", "left") else value


# ------------------------------------------------------------------ both changed it


@pytest.mark.parametrize("begun", ["blank", "recorded"])
@pytest.mark.parametrize("answer", ["mine", "theirs"])
@pytest.mark.parametrize("what", VALUES)
def test_what_both_changed_is_asked_and_the_answer_stands(
    farm, started, names, bea, clock, what, answer, begun
):
    mine, theirs, _, before = VALUES[what]
    if begun == "recorded":
        record(farm, farm.technician, started, **{what: before})
    desk = Desk(farm, "technician", closing(started))
    clock.move_to(LATER)
    record(farm, bea, started, **{what: theirs})

    assert desk.press(**typed(names, what, mine)) == 409
    assert desk.asks(names[what]) == [
        f"{said(what, theirs)} (recorded by Bea Lund, 4 May, 12:05)",
        f"{said(what, mine)} (yours, as above)",
    ]
    assert kept(farm, started)[what] == as_kept(what, theirs)

    # pressing again without an answer is refused, and the question is still there
    assert desk.press() == 409
    assert CHOOSE in desk.page
    assert len(desk.asks(names[what])) == 2
    assert kept(farm, started)[what] == as_kept(what, theirs)

    assert desk.press(**{f"stands-{names[what]}": answer}) == 302
    assert kept(farm, started)[what] == as_kept(what, mine if answer == "mine" else theirs)


@pytest.mark.parametrize("what", VALUES)
def test_no_answer_is_preset(farm, started, names, bea, what):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, **{what: VALUES[what][1]})
    desk.press(**typed(names, what, VALUES[what][0]))
    assert f"stands-{names[what]}" not in as_sent(desk.page)
    assert as_sent(desk.page)["asked"] == [names[what]]


@pytest.mark.parametrize("answer", ["mine", "theirs"])
@pytest.mark.parametrize("what", ["found", "left", "note"])
def test_what_i_emptied_and_somebody_changed_is_asked(farm, started, names, bea, what, answer):
    _, theirs, _, before = VALUES[what]
    record(farm, farm.technician, started, **{what: before})
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, **{what: theirs})
    assert desk.press(**{names[what]: ""}) == 409
    assert desk.asks(names[what])[1] == "Nothing (yours, as above)"
    assert desk.press(**{f"stands-{names[what]}": answer}) == 302
    assert kept(farm, started)[what] == ("" if answer == "mine" else as_kept(what, theirs))


@pytest.mark.parametrize("answer", ["mine", "theirs"])
@pytest.mark.parametrize("what", VALUES)
def test_what_i_changed_and_somebody_emptied_is_asked(farm, started, names, bea, what, answer):
    mine, _, _, before = VALUES[what]
    record(farm, farm.technician, started, **{what: before})
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started)
    assert desk.press(**typed(names, what, mine)) == 409
    assert desk.asks(names[what])[0].startswith(("Nothing (recorded", "Nothing chosen (recorded"))
    assert desk.press(**{f"stands-{names[what]}": answer}) == 302
    assert kept(farm, started)[what] == (as_kept(what, mine) if answer == "mine" else "")


# ------------------------------------------------------------------ only one changed it


@pytest.mark.parametrize("begun", ["blank", "recorded"])
@pytest.mark.parametrize("what", VALUES)
def test_what_i_did_not_change_takes_theirs_and_says_so(farm, started, names, bea, clock, what, begun):
    _, theirs, _, before = VALUES[what]
    other = "note" if what != "note" else "found"
    if begun == "recorded":
        record(farm, farm.technician, started, **{what: before})
    desk = Desk(farm, "technician", closing(started))
    clock.move_to(LATER)
    record(farm, bea, started, **{what: theirs})
    assert desk.press(**{names[other]: VALUES[other][0]}) == 409
    assert desk.asks(names[what]) == []
    told = f"Now {said(what, theirs)}, recorded by Bea Lund, 4 May, 12:05. You had not changed it here."
    assert told in desk.page
    assert desk.press() == 302
    assert kept(farm, started)[what] == as_kept(what, theirs)
    assert kept(farm, started)[other] == as_kept(other, VALUES[other][0])


@pytest.mark.parametrize("what", VALUES)
def test_what_somebody_emptied_and_i_did_not_change_stays_empty(farm, started, names, bea, what):
    other = "note" if what != "note" else "found"
    record(farm, farm.technician, started, **{what: VALUES[what][3]})
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started)
    assert desk.press(**{names[other]: VALUES[other][0]}) == 409
    assert "You had not changed it" in desk.page
    assert desk.press() == 302
    assert kept(farm, started)[what] == ""


@pytest.mark.parametrize("what", VALUES)
def test_what_nobody_else_changed_is_not_asked(farm, started, names, bea, what):
    other = "note" if what != "note" else "found"
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, **{other: VALUES[other][1]})
    assert desk.press(**typed(names, what, VALUES[what][0])) == 409
    assert desk.asks(names[what]) == []
    assert desk.press() == 302
    assert kept(farm, started)[what] == as_kept(what, VALUES[what][0])
    assert kept(farm, started)[other] == as_kept(other, VALUES[other][1])


@pytest.mark.parametrize("same", ["7,10", " 7.100 ", "7.1"])
def test_the_same_value_written_otherwise_is_no_question(farm, started, names, bea, same):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, found="7.1", note="one\ntwo")
    assert desk.press(**{names["found"]: same, names["note"]: "one\r\ntwo"}) == 409
    assert "asked" not in as_sent(desk.page)
    assert desk.press() == 302


def test_the_same_figure_in_another_unit_is_a_question(farm, started, names, bea):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, found="7.1")
    assert desk.press(**{names["found"]: "7.1", f"{names['found']}_unit": "in"}) == 409
    assert desk.asks(names["found"])[1] == "7.1 in (yours, as above)"
    assert desk.press(**{f"stands-{names['found']}": "theirs"}) == 302
    assert kept(farm, started)["found"] == "7.1 mm"


def test_left_with_its_reason_and_day_is_one_answer(farm, started, names, bea):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, outcome="left", reason="Under water", until=NOW.date() + timedelta(days=3))
    assert desk.press(**{names["outcome"]: "done"}) == 409
    assert desk.asks(names["outcome"])[0].startswith("Left until 7 May 2026: Under water (recorded by Bea")
    assert desk.asks(names["reason"]) == []
    assert desk.press(**{f"stands-{names['outcome']}": "theirs"}) == 302
    with farm.scope():
        line = started.lines.get()
    assert (line.outcome, line.reason) == ("left", "Under water")
    assert line.put_off_until.isoformat() == "2026-05-07"


# ------------------------------------------------------------------ a third change


@pytest.mark.parametrize("answer", ["mine", "theirs"])
@pytest.mark.parametrize("what", VALUES)
def test_a_third_change_of_it_asks_again(farm, started, names, bea, what, answer):
    mine, theirs, third, _ = VALUES[what]
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, **{what: theirs})
    desk.press(**typed(names, what, mine))
    record(farm, farm.owner, started, **{what: third})
    assert desk.press(**{f"stands-{names[what]}": answer}) == 409
    told = desk.asks(names[what])
    assert told[0].startswith(f"{said(what, third)} (recorded by {farm.owner}")
    assert told[1] == f"{said(what, mine)} (yours, as above)"
    assert f"stands-{names[what]}" not in as_sent(desk.page)
    assert kept(farm, started)[what] == as_kept(what, third)
    assert desk.press() == 409
    assert desk.press(**{f"stands-{names[what]}": "mine"}) == 302
    assert kept(farm, started)[what] == as_kept(what, mine)


@pytest.mark.parametrize("answer", ["mine", "theirs"])
def test_an_answer_stands_where_the_third_change_was_elsewhere(farm, started, names, bea, answer):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, found="7.1")
    desk.press(**{names["found"]: "7.4"})
    record(farm, bea, started, found="7.1", note="cold")
    assert desk.press(**{f"stands-{names['found']}": answer}) == 409
    assert as_sent(desk.page)[f"stands-{names['found']}"] == [answer]
    assert desk.press() == 302
    assert kept(farm, started) | {"outcome": "", "left": ""} == {
        "outcome": "",
        "left": "",
        "note": "cold",
        "found": "7.4 mm" if answer == "mine" else "7.1 mm",
    }


def test_somebody_saves_while_a_refused_page_is_made_anew(farm, started, names, bea):
    """Refused for something of its own, the page must not pass over what came in between."""
    desk = Desk(farm, "technician", closing(started))
    assert desk.press("close", **{names["found"]: "7.4", names["outcome"]: "done", "hours": "soon"}) == 422
    record(farm, bea, started, found="7.1")
    assert desk.press("close", hours="1004") == 409
    assert desk.press("close") == 409
    assert desk.press("close", **{f"stands-{names['found']}": "mine"}) == 302
    assert kept(farm, started)["found"] == "7.4 mm"


# ------------------------------------------------------------------ two things wrong at once


def test_an_answered_question_survives_another_refusal(farm, started, names, bea):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, found="7.1", outcome="done")
    desk.press("close", **{names["found"]: "7.4"})
    assert desk.press("close", **{f"stands-{names['found']}": "theirs", "hours": ""}) == 422
    assert as_sent(desk.page)[names["found"]] == ["7.1"]
    assert desk.press("close", hours="1004") == 302
    assert kept(farm, started)["found"] == "7.1 mm"


def test_one_answer_of_two_is_taken_and_the_other_asked_for(farm, started, names, bea):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, found="7.1", note="cold")
    desk.press(**{names["found"]: "7.4", names["note"]: "warm"})
    assert desk.press(**{f"stands-{names['found']}": "theirs"}) == 409
    assert as_sent(desk.page)["asked"] == [names["note"]]
    assert as_sent(desk.page)[names["found"]] == ["7.1"]
    assert desk.press(**{f"stands-{names['note']}": "mine"}) == 302
    assert kept(farm, started) == {"outcome": "", "left": "", "found": "7.1 mm", "note": "warm"}


@pytest.mark.parametrize("carried", ["", "{", "[]", '{"x": 1}', "null"])
def test_a_page_that_lost_what_it_was_shown_with_is_asked_and_empties_nothing(
    farm, started, names, bea, carried
):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, found="7.1", note="cold")
    assert desk.press(**{names["found"]: "7.4", "shown": carried}) == 409
    assert as_sent(desk.page)["asked"] == [names["found"]]
    assert desk.press(**{f"stands-{names['found']}": "mine"}) == 302
    assert kept(farm, started) == {"outcome": "", "left": "", "found": "7.4 mm", "note": "cold"}


@pytest.mark.parametrize("asked", ["hours_confirmed", "revision", "lines-1-nothing", "²", "further-0-part"])
def test_an_invented_question_is_passed_over(farm, started, names, asked):
    desk = Desk(farm, "technician", closing(started))
    assert desk.press(**{names["note"]: "warm", "asked": asked, f"stands-{asked}": "theirs"}) == 302
    assert kept(farm, started)["note"] == "warm"


def test_a_safety_check_that_fails_counts_while_it_is_being_asked_about(farm, duty, started, names, bea):
    with farm.scope():
        duty.task.checks.update(safety=True)
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, found="7.1")
    desk.press(**{names["found"]: "7.4"})
    assert desk.press(**{names["found"]: "9"}) == 409
    with farm.scope():
        assert TagOut.objects.open().get().machine == duty.machine
        assert SafetyFailure.objects.get().as_found == "9 mm"
    assert kept(farm, started)["found"] == "7.1 mm", "nobody said that mine stands"


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
        workorders.park(order=started, member=bea, revision=2, reason="Belt ordered")
        again = workorders.resume(order=WorkOrder.objects.get(), member=bea, revision=3)
    record(farm, bea, again, found="7.1")
    with farm.scope():
        workorders.park(order=started, member=bea, revision=5, reason="Belt ordered")
    assert desk.press(**{names["found"]: "7.4"}) == 409
    assert desk.asks(names["found"]) == []
    assert "7.1 mm, recorded by Bea Lund, 4 May, 12:00. You typed: 7.4 mm." in desk.page
    assert kept(farm, started)["found"] == "7.1 mm"


# ------------------------------------------------------------------ the steps, and corrections


def step_of(farm, order):
    page = farm.client("technician").get(reverse("order-steps", args=[order.pk]))
    number = next(each.number for each, _ in page.context["overview"])
    return f"{reverse('order-steps', args=[order.pk])}?step={number}"


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
        assert "Nothing would change" in second.page
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
