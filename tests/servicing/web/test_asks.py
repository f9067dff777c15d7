"""What is in the way is named on the pages; who may says why, others ask, and the ask stands on Today."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from fleet.machines import tag_outs
from fleet.models import Ask, Booking, Hire
from servicing import workorders
from servicing.models import WorkOrder
from tests.factories import BookingFactory, DutyFactory

NOW = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
BOOKED = "Booked for Gala Ros from 8 June to 12 June 2026."
pytestmark = pytest.mark.time_machine(NOW, tick=False)


def get(farm, role, name, *args, **query):
    answer = farm.client(role).get(reverse(name, args=args), query)
    assert answer.status_code == 200
    return answer.content.decode().replace("\xa0", " ")


def post(farm, role, name, *args, **data):
    answer = farm.client(role).post(reverse(name, args=args), data)
    return answer, answer.content.decode().replace("\xa0", " ")


def far_duty(machine):
    return DutyFactory(machine=machine, mark_hours=Decimal(9000), early=None, likely=None, late=None)


def order_for(farm, machine, day):
    with farm.scope():
        return workorders.plan(
            member=farm.manager, machine=machine, duties=[far_duty(machine)], planned_for=day
        )


def tag_out(farm, machine):
    with farm.scope():
        return tag_outs.place(machine=machine, reason="Brakes failed", member=farm.technician)


class TestGate:
    def test_the_gate_and_the_way_out_say_what_is_promised(self, farm, machine):
        BookingFactory(machine=machine, first_on=date(2026, 6, 1), last_on=date(2026, 6, 2))
        BookingFactory(machine=machine)
        listed = get(farm, "counter", "gate")
        assert "Booked for Gala Ros from 1 June to 2 June 2026." in listed
        assert BOOKED not in listed
        assert BOOKED in get(farm, "counter", "gate-out", machine.pk)

    def test_the_counter_is_told_whose_days_and_asks(self, farm, machine):
        BookingFactory(machine=machine)
        asked = {"hirer": "Pau Vila", "due_back_on": "2026-06-09", "shows": "12,5", "note": "Trailer too"}
        answer, html = post(farm, "counter", "gate-out", machine.pk, **asked)
        assert f"{BOOKED} Someone who plans the work can send it out anyway: ask for it." in html
        assert 'name="ask"' in html
        assert "Send it out anyway" not in html
        assert 'name="anyway_reason"' not in html
        for kept in ('value="Pau Vila"', 'value="2026-06-09"', 'value="12,5"', "Trailer too"):
            assert kept in html
        answer, _ = post(farm, "counter", "gate-out", machine.pk, **asked, ask="1", ask_note="One day only")
        assert (answer.status_code, answer.url) == (302, "/gate/")
        with farm.scope():
            made = Ask.objects.get()
            assert not Hire.objects.exists()
        assert (made.whom, made.note, made.last_on) == ("Pau Vila", "One day only", date(2026, 6, 9))
        for role in ("manager", "owner"):
            section = get(farm, role, "today").split(">Waiting for you</h2>")[1].split("</section>")[0]
            for said in (
                "T-07",
                "Send it out for Pau Vila, Mon 1 Jun to Tue 9 Jun",
                BOOKED,
                "One day only",
            ):
                assert said in section
            assert ">Answer<" in section
        assert "Waiting for you" not in get(farm, "technician", "today")
        own = get(farm, "counter", "today")
        assert ">Show<" in own
        assert ">Answer<" not in own

    def test_the_days_of_an_ask_say_a_year_once(self, farm, machine):
        with farm.scope():
            ask = Ask.objects.create(
                organisation=farm.organisation,
                machine=machine,
                asked_by=farm.counter,
                matter="book",
                whom="Pau Vila",
                first_on=date(2027, 2, 1),
                last_on=date(2027, 2, 3),
            )
        assert "Book it for Pau Vila, 1 Feb to 3 Feb 2027," in get(farm, "manager", "today")
        assert "<dd>1 Feb to 3 Feb 2027</dd>" in get(farm, "manager", "ask", ask.pk)

    def test_a_second_ask_is_told_of_the_first_and_keeps_what_was_typed(self, farm, machine):
        BookingFactory(machine=machine)
        asked = {"hirer": "Pau Vila", "due_back_on": "2026-06-09", "ask": "1"}
        post(farm, "counter", "gate-out", machine.pk, **asked)
        _, html = post(farm, "counter", "gate-out", machine.pk, **{**asked, "hirer": "Vic Mas"})
        assert f"{farm.counter} asked for this on 1 June 2026 for Pau Vila" in html
        assert 'value="Vic Mas"' in html

    def test_the_manager_comes_from_the_ask_says_why_and_it_is_shown(self, farm, machine):
        BookingFactory(machine=machine)
        asked = {"hirer": "Pau & Sons", "due_back_on": "2026-06-09"}
        post(farm, "counter", "gate-out", machine.pk, **asked, ask="1")
        with farm.scope():
            ask = Ask.objects.get()
        html = get(farm, "manager", "ask", ask.pk)
        link = html.split('">Send it out</a>')[0].rsplit('href="', 1)[1].replace("&amp;", "&")
        form = farm.client("manager").get(link).content.decode()
        assert 'value="Pau &amp; Sons"' in form
        assert 'value="2026-06-09"' in form
        _, html = post(farm, "manager", "gate-out", machine.pk, **asked)
        assert "To send it out anyway, say why." in html
        answer, _ = post(
            farm, "manager", "gate-out", machine.pk, **asked, anyway_reason="<b>Gala</b> starts later"
        )
        assert answer.status_code == 302
        for page in ("machine", "gate-in"):
            html = get(farm, "counter", page, machine.pk)
            assert "&lt;b&gt;Gala&lt;/b&gt; starts later" in html
            assert f"{farm.manager}, Mon 1 Jun, 12:00" in html
            assert BOOKED in html
        assert f"{farm.manager}, Mon 1 Jun, 12:00" in get(farm, "counter", "today")
        assert "Waiting for you" not in get(farm, "manager", "today")
        for after, shown in [(timedelta(days=3), True), (timedelta(days=3, seconds=1), False)]:
            with time_machine.travel(NOW + after, tick=False):
                assert ("You asked for" in get(farm, "counter", "today")) is shown

    def test_service_first_shows_the_counter_no_way_out_but_asking(self, farm, machine):
        DutyFactory(machine=machine, mark_hours=Decimal(0))
        html = get(farm, "counter", "gate-out", machine.pk)
        assert "Send it out" not in html.split("<form")[-1]
        assert 'name="ask"' in html
        assert "Ask for it<" in get(farm, "counter", "gate")
        answer, _ = post(farm, "counter", "gate-out", machine.pk, hirer="Pau", ask="1")
        assert answer.status_code == 302

    def test_a_tagged_out_unit_is_asked_to_be_cleared(self, farm, machine):
        tag = tag_out(farm, machine)
        html = get(farm, "counter", "gate-out", machine.pk)
        assert 'name="clear"' in html
        assert "Send it out" not in html
        answer, _ = post(farm, "counter", "gate-out", machine.pk, clear="1", ask_note="Gala waits")
        assert answer.status_code == 302
        assert "Clear its tag-out" in get(farm, "manager", "today")
        clear = reverse("tag-out-clear", args=[tag.pk])
        with farm.scope():
            ask = Ask.objects.get()
        assert clear in get(farm, "manager", "ask", ask.pk)
        assert clear in get(farm, "manager", "gate-out", machine.pk)
        _, html = post(farm, "counter", "gate-out", machine.pk, clear="1", ask_note="Once more")
        assert "asked for this on 1 June 2026" in html
        assert "Once more" in html
        farm.client("manager").post(clear, {"reason": "Pads are new"})
        with farm.scope():
            ask.refresh_from_db()
        assert ask.outcome == "Cleared: Pads are new"

    def test_the_booking_it_goes_out_for_can_be_chosen(self, farm, machine):
        booking = BookingFactory(machine=machine, first_on=date(2026, 6, 1), last_on=date(2026, 6, 4))
        later = BookingFactory(machine=machine, first_on=date(2026, 7, 1), last_on=date(2026, 7, 4))
        html = get(farm, "counter", "gate-out", machine.pk)
        choices = html.split('name="booking"')[1].split("</select>")[0]
        assert f'value="{booking.pk}"' in choices
        assert f'value="{later.pk}"' not in choices
        asked = {"hirer": "Ros Paving", "due_back_on": "2026-06-04"}
        _, html = post(farm, "counter", "gate-out", machine.pk, **asked, booking=later.pk)
        assert "That isn&#x27;t on the list. Choose again." in html
        answer, _ = post(farm, "counter", "gate-out", machine.pk, **asked, booking=booking.pk)
        assert answer.status_code == 302
        with farm.scope():
            assert Hire.objects.get().booking == booking


class TestBookingPage:
    facts = {
        "kind": "hire",
        "what": "Pau Vila",
        "first_on": "2026-06-08",
        "last_on": "2026-06-12",
        "hours_a_day": "6,5",
    }

    def test_who_plans_is_asked_why_and_it_stands_on_the_booking(self, farm, machine):
        tag_out(farm, machine)
        order = order_for(farm, machine, date(2026, 6, 9))
        assert 'name="override_reason"' not in get(farm, "manager", "booking-new", machine.pk)
        answer, html = post(farm, "manager", "booking-new", machine.pk, **self.facts)
        assert answer.status_code == 422
        assert "Tagged out by" in html
        assert f"{order} is planned for 9 June 2026." in html
        assert 'name="override_reason"' in html
        assert 'value="6,5"' in html
        answer, html = post(farm, "manager", "booking-new", machine.pk, **self.facts, override_reason=" ")
        assert "say why" in html
        given = {**self.facts, "override_reason": "Pads come"}
        answer, _ = post(farm, "manager", "booking-new", machine.pk, **given)
        assert answer.status_code == 302
        with farm.scope():
            booking = Booking.objects.get()
        html = get(farm, "manager", "booking", booking.pk)
        for said in (
            "Pads come",
            f"{farm.manager}, Mon 1 Jun, 12:00",
            f"{order} is planned for 9 June 2026.",
        ):
            assert said in html

    def test_the_counter_asks_and_the_booking_made_deals_with_it(self, farm, machine):
        tag_out(farm, machine)
        _, html = post(farm, "counter", "booking-new", machine.pk, **self.facts)
        assert "Ask someone who plans the work to book it." in html
        assert 'name="override_reason"' not in html
        assert 'name="ask"' in html
        asked = {**self.facts, "ask": "1", "ask_note": "Good man"}
        answer, _ = post(farm, "counter", "booking-new", machine.pk, **asked)
        assert answer.status_code == 302
        with farm.scope():
            assert not Booking.objects.exists()
            ask = Ask.objects.get()
        html = get(farm, "manager", "ask", ask.pk)
        assert "Mon 8 Jun to Fri 12 Jun" in html
        link = html.split('">Book it</a>')[0].rsplit('href="', 1)[1].replace("&amp;", "&")
        form = farm.client("manager").get(link).content.decode()
        for kept in ('value="Pau Vila"', 'value="2026-06-08"', 'value="2026-06-12"'):
            assert kept in form
        post(farm, "manager", "booking-new", machine.pk, **self.facts, override_reason="Pads come")
        with farm.scope():
            ask.refresh_from_db()
        assert ask.outcome == "Booked for Pau Vila from 8 June to 12 June 2026."

    def test_two_bookings_are_not_asked_for(self, farm, machine):
        BookingFactory(machine=machine)
        tag_out(farm, machine)
        for role in ("counter", "manager"):
            _, html = post(farm, role, "booking-new", machine.pk, **self.facts)
            assert "Choose other days, or change that booking first" in html
            assert 'name="ask"' not in html
            assert 'name="override_reason"' not in html

    def test_a_forged_reason_of_the_counter_changes_nothing(self, farm, machine):
        tag_out(farm, machine)
        answer, _ = post(farm, "counter", "booking-new", machine.pk, **self.facts, override_reason="x")
        assert answer.status_code == 422
        with farm.scope():
            assert not Booking.objects.exists()


class TestOrderPages:
    def test_a_planned_day_that_is_booked_asks_why_and_keeps_what_was_chosen(self, farm, machine):
        BookingFactory(machine=machine)
        duty = far_duty(machine)
        path = f"{reverse('order-new')}?machine={machine.pk}"
        asked = {"duties": [duty.pk], "planned_for": "2026-06-09", "note": "Bring the pump"}
        manager = farm.client("manager")
        assert "override_reason" not in manager.get(path).content.decode()
        html = manager.post(path, asked).content.decode()
        assert BOOKED in html.replace("\xa0", " ")
        for kept in ('name="override_reason"', 'value="2026-06-09"', "Bring the pump"):
            assert kept in html
        assert manager.post(path, {**asked, "override_reason": "Gala knows"}).status_code == 302
        with farm.scope():
            order = WorkOrder.objects.get()
        html = get(farm, "technician", "order", order.pk)
        assert "Planned anyway" in html
        assert f"{farm.manager}, Mon 1 Jun, 12:00" in html

    def test_so_does_assigning_it_to_that_day(self, farm, machine):
        order = order_for(farm, machine, None)
        BookingFactory(machine=machine)
        asked = {"revision": 1, "technician": "", "planned_for": "2026-06-09"}
        answer, html = post(farm, "manager", "order-assign", order.pk, **asked)
        assert answer.status_code == 409
        assert BOOKED in html
        assert 'name="override_reason"' in html
        answer, _ = post(farm, "manager", "order-assign", order.pk, **asked, override_reason="Gala knows")
        assert answer.status_code == 302

    def test_whoever_starts_an_order_is_told_whose_day_it_is(self, farm, machine):
        taken = "Booked for Gala Ros from 1 June to 2 June 2026."
        order = order_for(farm, machine, None)
        assert taken not in get(farm, "technician", "order", order.pk)
        booking = BookingFactory(machine=machine, first_on=date(2026, 6, 1), last_on=date(2026, 6, 2))
        assert taken in get(farm, "technician", "order", order.pk)
        with farm.scope():
            workorders.assign(
                order=order,
                member=farm.manager,
                revision=order.revision,
                technician=None,
                planned_for=date(2026, 6, 3),
            )
            order.refresh_from_db()
        assert taken not in get(farm, "technician", "order", order.pk)  # by then it is back
        with farm.scope():
            workorders.cancel(order=order, member=farm.manager, revision=order.revision, reason="Not needed.")
            booking.last_on = date(2026, 6, 9)
            booking.save()
        assert "Booked for" not in get(farm, "technician", "order", order.pk)


class TestAnswering:
    @pytest.fixture
    def ask(self, farm, machine):
        tag_out(farm, machine)
        post(farm, "counter", "gate-out", machine.pk, clear="1")
        with farm.scope():
            return Ask.objects.get()

    def test_an_answer_in_words_ends_it(self, farm, machine, ask):
        answer, html = post(farm, "manager", "ask", ask.pk, outcome="")
        assert answer.status_code == 422
        assert "Say what was done, or why not." in html
        answer, _ = post(farm, "manager", "ask", ask.pk, outcome="Pads come on <i>Monday</i>")
        assert (answer.status_code, answer.url) == (302, "/")
        for page in (get(farm, "counter", "today"), get(farm, "counter", "gate-out", machine.pk)):
            assert "Pads come on &lt;i&gt;Monday&lt;/i&gt;" in page

    def test_who_comes_second_is_told_and_sees_what_was_typed(self, farm, ask):
        post(farm, "manager", "ask", ask.pk, outcome="Monday")
        answer, html = post(farm, "owner", "ask", ask.pk, outcome="Tuesday")
        assert answer.status_code == 409
        assert f"{farm.manager} has answered this already: Monday" in html
        assert "Tuesday" in html

    def test_who_may_not_deal_with_it_sees_it_alone(self, farm, stranger, ask):
        assert "Or answer" not in get(farm, "technician", "ask", ask.pk)
        assert post(farm, "counter", "ask", ask.pk, outcome="Yes")[0].status_code == 403
        assert stranger.client("owner").get(reverse("ask", args=[ask.pk])).status_code == 404
