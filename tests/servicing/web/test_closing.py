"""The closing form of an order, as a browser without JavaScript sees it."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from fleet.models import Reading, TagOut, User
from fleet.usage.figures import Writing, written
from servicing import workorders
from servicing.models import CheckResult
from tests.factories import PartFactory
from tests.servicing.web.order_pages import NOW, TODAY, due, filled_in, names, now

pytestmark = pytest.mark.time_machine(NOW, tick=False)


# ------------------------------------------------------------------ closing


def test_an_order_is_closed_with_a_value_in_inches(farm, machine, duty, technician, started):
    with farm.scope():
        part = PartFactory(organisation=farm.organisation, in_stock=Decimal(5))
    more = {
        f"labour-{technician.pk}-minutes": "45",
        "further-0-part": part.pk,
        "further-0-quantity": "1,5",
        "close": "yes",
    }
    # NIST SP 811: 0.3 in is 7.62 mm exactly, the upper limit
    sent = filled_in(farm, started, found="0.3", unit="in", **more)
    answer = farm.client("technician").post(reverse("order-close", args=[started.pk]), sent, follow=True)
    assert answer.status_code == 200
    closed = now(farm, started)
    assert (closed.state, closed.hours_at_close) == ("closed", Decimal("1004.50"))
    with farm.scope():
        result = CheckResult.objects.get()
        assert (result.as_found, result.found_passes) == ("0.3 in", True)
        assert closed.labour.get().minutes == 45
        assert closed.parts.get().quantity == Decimal("1.5")
        duty.refresh_from_db()
        assert duty.mark_hours == 1100
    page = answer.content.decode()
    assert "0.3 in" in page
    assert "within limits" in page


def test_who_writes_a_comma_finds_values_so_and_records_them_again_unchanged(farm, started):
    """The second time a value of three places comes as the page shows it, and means what it meant."""
    User.objects.filter(pk=farm.technician.user_id).update(decimal_mark=",")
    client, url = farm.client("technician"), reverse("order-close", args=[started.pk])
    _, check = names(farm, started)
    kept = filled_in(farm, started, found="0,285", unit="in", hours="", save="yes")
    assert client.post(url, kept).status_code == 302
    assert f'name="{check}-found" value="0,285"' in client.get(url).content.decode()
    again = filled_in(farm, now(farm, started), found="0,285", unit="in", hours="1004,5")
    assert client.post(url, again).status_code == 302
    with farm.scope():
        assert CheckResult.objects.get().as_found.replace(",", ".") == "0.285 in"
    assert now(farm, started).hours_at_close == Decimal("1004.50")


def test_what_was_recorded_is_recorded_again_by_who_writes_a_comma(farm, started):
    client, url = farm.client("technician"), reverse("order-close", args=[started.pk])
    assert (
        client.post(url, filled_in(farm, started, found="0.285", unit="in", hours="", save="yes")).status_code
        == 302
    )
    with farm.scope(), written(Writing(decimal_mark=",")):
        order = now(farm, started)
        stored = workorders.stored(order)
        assert [check.found for line in stored.lines for check in line.checks] == ["0,285"]
        workorders.record(order=order, member=farm.technician, entries=stored, revision=order.revision)
        assert CheckResult.objects.get().found_value == Decimal("0.285")


def test_every_problem_is_shown_at_its_field_with_what_was_typed(farm, started):
    line, check = names(farm, started)
    sent = filled_in(
        farm, started, found="9", hours="", **{f"{line}-note": "belt frayed", "further-0-quantity": "2"}
    )
    answer = farm.client("technician").post(reverse("order-close", args=[started.pk]), sent)
    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert set(errors) == {f"{check}-left", "further-0-part", "hours"}
    page = answer.content.decode()
    assert "Out of limits as found" in page
    assert "belt frayed" in page
    assert f'name="{check}-found" value="9"' in page
    assert now(farm, started).state == "started"


def test_the_second_of_two_people_loses_nothing_typed(farm, started):
    line, check = names(farm, started)
    first, second = farm.client("technician"), farm.client("manager")
    url = reverse("order-close", args=[started.pk])
    assert first.post(url, filled_in(farm, started)).status_code == 302
    sent = filled_in(
        farm, started, found="7.3", **{f"{line}-note": "tightened it twice", "further-1-quantity": "3"}
    )
    sent["further-1-part"] = PartFactory(organisation=farm.organisation).pk
    answer = second.post(url, sent)
    assert answer.status_code == 409
    page = answer.content.decode()
    assert f"{farm.technician} closed it on 4 May at 12:00" in page
    assert f'name="{check}-found" value="7.3"' in page
    assert "tightened it twice" in page
    assert 'name="further-1-quantity" value="3"' in page
    assert "Close the order" not in page
    with farm.scope():
        assert CheckResult.objects.get().found_value == Decimal("7.5")


def test_after_somebody_saved_the_typed_values_can_be_sent_again(farm, started):
    _, check = names(farm, started)
    url = reverse("order-close", args=[started.pk])
    farm.client("manager").post(url, filled_in(farm, started, found="7.1", save="yes"))
    second = farm.client("technician")
    answer = second.post(url, filled_in(farm, started, found="7.2"))
    assert answer.status_code == 409
    page = answer.content.decode()
    assert 'name="revision" value="3"' in page
    assert f'name="{check}-found" value="7.2"' in page
    again = filled_in(farm, started, found="7.2") | {"revision": 3, "asked": f"{check}-found"}
    assert second.post(url, again).status_code == 409
    assert second.post(url, again | {f"stands-{check}-found": "mine"}).status_code == 302
    assert now(farm, started).state == "closed"


def test_save_not_finished_comes_back_filled_in(farm, technician, started):
    line, check = names(farm, started)
    with farm.scope():
        part = PartFactory(organisation=farm.organisation, in_stock=Decimal(5))
    url = reverse("order-close", args=[started.pk])
    more = {
        f"{line}-note": "waiting for the belt",
        f"labour-{technician.pk}-minutes": "20",
        "further-0-part": part.pk,
        "further-0-quantity": "2",
        "save": "yes",
    }
    sent = filled_in(farm, started, found="0.31", unit="in", outcome="", hours="", **more)
    client = farm.client("technician")
    assert client.post(url, sent).status_code == 302
    page = client.get(url).content.decode()
    assert f'name="{check}-found" value="0.31"' in page
    assert '<option value="in" selected>' in page
    assert "waiting for the belt" in page
    assert f'name="parts-{part.pk}-quantity" value="2"' in page
    assert f'name="labour-{technician.pk}-minutes" value="20"' in page
    with farm.scope():
        part.refresh_from_db()
        assert part.in_stock == 5


def test_what_the_tasks_ask_for_is_filled_in_at_first(farm, duty, started):
    with farm.scope():
        part = PartFactory(organisation=farm.organisation, unit="L", in_stock=Decimal(1))
        duty.task.supplies.create(organisation=farm.organisation, part=part, quantity=Decimal("4.5"))
    page = farm.client("technician").get(reverse("order-close", args=[started.pk])).content.decode()
    assert f'name="parts-{part.pk}-quantity" value="4.5"' in page


def test_unlikely_hours_can_be_confirmed_and_are_held(farm, machine, started):
    client, url = farm.client("technician"), reverse("order-close", args=[started.pk])
    answer = client.post(url, filled_in(farm, started, hours="10040"))
    assert set(answer.context["form"].errors) == {"hours"}
    assert 'name="hours_confirmed"' in answer.content.decode()
    answer = client.post(url, filled_in(farm, started, hours="10040", hours_confirmed="on"), follow=True)
    assert "wait for a decision" in answer.content.decode()
    with farm.scope():
        assert Reading.objects.get(source="order").state == "held"
    assert now(farm, started).hours_at_close == 1000


def test_a_failed_safety_check_shows_the_tag_out(farm, machine, duty, started):
    with farm.scope():
        duty.task.checks.update(safety=True)
    _, check = names(farm, started)
    sent = filled_in(farm, started, found="9", **{f"{check}-left": "9"})
    answer = farm.client("technician").post(reverse("order-close", args=[started.pk]), sent, follow=True)
    assert "Do not use T-07 until it is cleared" in answer.content.decode()
    with farm.scope():
        assert TagOut.objects.open().get().machine == machine


def test_only_a_started_order_has_a_closing_form(farm, order):
    answer = farm.client("technician").get(reverse("order-close", args=[order.pk]), follow=True)
    assert answer.redirect_chain == [(reverse("order", args=[order.pk]), 302)]
    assert "only a started order can be closed" in answer.content.decode()


# ------------------------------------------------------------------ a failed safety check on a refused page


@pytest.mark.parametrize("button", ["close", "save"])
@pytest.mark.parametrize(
    "more",
    [
        {"hours": "", "outcome": "deferred"},
        {"hours": "many"},
        {"hours": "1004", "further-0-quantity": "abc"},
        {"hours": "1004", "revision": "none"},
        {"hours": "", "revision": "1"},
    ],
    ids=["no hours and no reason", "hours unread", "a quantity unread", "revision unread", "stale"],
)
def test_a_refused_page_keeps_a_failed_safety_check_and_says_so(
    farm, machine, started, safety_check, more, button
):
    line, check = names(farm, started)
    more = {f"{line}-deferred_until": "some day", **more, button: "yes"}
    answer = farm.client("technician").post(
        reverse("order-close", args=[started.pk]), filled_in(farm, started, found="9", **more)
    )
    assert answer.status_code in (409, 422)
    page = answer.content.decode()
    assert "check failed: Belt deflection: 9 mm" in page
    assert f'name="{check}-found" value="9"' in page
    with farm.scope():
        assert TagOut.objects.open().get().machine == machine
    assert now(farm, started).state == "started"


def test_the_manager_sees_whose_entries_are_not_accepted(farm, started, safety_check):
    client, manager = farm.client("technician"), farm.client("manager")
    sent = filled_in(farm, started, found="9", outcome="referred", save="yes")
    assert client.post(reverse("order-close", args=[started.pk]), sent).status_code == 422
    today = manager.get(reverse("today")).content.decode()
    for page in (today, manager.get(started.get_absolute_url()).content.decode()):
        for said in (str(farm.technician), "Say what the dealer or licensed shop should look at.", "12:00"):
            assert said in page
    for name in ("bench", "orders"):
        assert "entries not accepted" in manager.get(reverse(name)).content.decode()
    assert "Entries not accepted" not in farm.client("counter").get(reverse("today")).content.decode()
    line, _ = names(farm, started)
    sent |= {"revision": now(farm, started).revision, f"{line}-reason": "the tensioner"}
    assert client.post(reverse("order-close", args=[started.pk]), sent).status_code == 302
    assert "Entries not accepted" not in manager.get(reverse("today")).content.decode()


def test_on_a_conflict_what_was_left_empty_takes_what_is_recorded(farm, started):
    line, check = names(farm, started)
    url = reverse("order-close", args=[started.pk])
    farm.client("manager").post(url, filled_in(farm, started, found="7.1", save="yes"))
    second = farm.client("technician")
    mine = filled_in(farm, started, found="", outcome="", **{f"{line}-note": "checked cold"})
    answer = second.post(url, mine)
    assert answer.status_code == 409
    shown = answer.context["form"].data
    assert (shown[f"{check}-found"], shown[f"{line}-outcome"], shown[f"{line}-note"]) == (
        "7.1",
        "done",
        "checked cold",
    )


def test_minutes_by_the_clock(farm, technician, started):
    url = reverse("order-close", args=[started.pk])
    name = f"labour-{technician.pk}-minutes"
    refused = farm.client("technician").post(url, filled_in(farm, started, **{name: "1:75", "save": "yes"}))
    assert refused.context["form"].errors[name] == ["Enter whole minutes, like 75 or 1:15."]
    farm.client("technician").post(url, filled_in(farm, started, **{name: "1:15", "save": "yes"}))
    with farm.scope():
        assert now(farm, started).labour.get().minutes == 75


# ------------------------------------------------------------------ which lines are unfolded


class TestUnfolded:
    """A line is folded to its title, but the first open one and whatever needs a look."""

    @pytest.fixture
    def three(self, farm, machine, duty, technician):
        with farm.scope():
            duties = [duty, due(machine, "Grease the pins", TODAY), due(machine, "Check the tyres", TODAY)]
            order = workorders.plan(
                member=farm.manager,
                machine=machine,
                duties=duties,
                technician=technician,
                planned_for=TODAY,
            )
            return workorders.start(order=order, member=farm.technician, revision=order.revision)

    def unfolded(self, form):
        return [row["line"].title for row in form.rows() if row["unfolded"]]

    def asked(self, farm, order, **sent):
        client, address = farm.client("technician"), reverse("order-close", args=[order.pk])
        answer = client.post(address, sent) if sent else client.get(address)
        return answer.context["form"], answer.content.decode()

    def test_the_first_at_the_beginning(self, farm, three):
        form, page = self.asked(farm, three)
        titles = [row["line"].title for row in form.rows()]
        assert self.unfolded(form) == titles[:1]
        assert len(titles) == 3
        assert re.findall(r"<details class=\"line\"[^>]*? (open )?data-line>", page) == ["open ", "", ""]

    def test_the_next_without_an_outcome_after_saving(self, farm, three):
        form, _ = self.asked(farm, three)
        first = form.rows()[0]
        name = f"lines-{first['line'].pk}-outcome"
        sent = {"revision": three.revision, name: "not done", "save": "yes"}
        refused, page = self.asked(farm, three, **sent)
        titles = [row["line"].title for row in form.rows()]
        assert self.unfolded(refused) == titles[:2], "the one refused, and the first without an outcome"
        assert page.count("see below") == 1
        address = reverse("order-close", args=[three.pk])
        assert farm.client("technician").post(address, sent | {name: "referred"}).status_code == 422
        why = {f"lines-{first['line'].pk}-reason": "Dealer has the tool"}
        assert farm.client("technician").post(address, sent | {name: "referred"} | why).status_code == 302
        form, page = self.asked(farm, three)
        assert self.unfolded(form) == [form.rows()[1]["line"].title]
        assert "referred" in page.split('<div class="lines">')[1].split("</summary>")[0]

    def test_two_things_wrong_and_a_note_open_their_lines(self, farm, three):
        form, _ = self.asked(farm, three)
        one, two, last = (f"lines-{row['line'].pk}" for row in form.rows())
        sent = {
            "revision": three.revision,
            f"{one}-outcome": "done",
            f"{two}-outcome": "deferred",
            f"{last}-outcome": "done",
            f"{last}-note": "Nipple missing",
            "hours": "many",
        }
        form, page = self.asked(farm, three, **sent)
        assert {f"{two}-reason", f"{two}-deferred_until", "hours"} <= set(form.errors)
        assert self.unfolded(form) == [row["line"].title for row in form.rows()]
        assert "Nipple missing" in page

    def test_a_question_is_never_folded_away(self, farm, three):
        form, _ = self.asked(farm, three)
        *_, last = form.rows()
        name = f"lines-{last['line'].pk}-outcome"
        address = reverse("order-close", args=[three.pk])
        other = {"revision": three.revision, name: "done", "save": "yes"}
        assert farm.client("manager").post(address, other).status_code == 302
        mine = {"revision": three.revision, name: "not fitted", "save": "yes", "shown": "{}"}
        form, page = self.asked(farm, three, **mine)
        assert last["line"].title in self.unfolded(form)
        assert f'name="stands-{name}"' in page


@pytest.mark.parametrize(("words", "buttons"), [(2, True), (4, True), (5, False)])
def test_few_words_are_buttons_and_many_a_list(farm, duty, started, words, buttons):
    choices = [{"value": f"sort {n}", "passes": n == 1, "meaning": ""} for n in range(words)]
    with farm.scope():
        duty.task.checks.update(kind="sight", choices=choices, unit="", lower=None, upper=None)
    _, check = names(farm, started)
    page = farm.client("technician").get(reverse("order-close", args=[started.pk])).content.decode()
    assert (f'<input type="radio" name="{check}-found" value="sort 0"' in page) is buttons
    assert (f'<select name="{check}-found"' in page) is not buttons
    assert page.count(f'name="{check}-left"') == (words + 1 if buttons else 1)
