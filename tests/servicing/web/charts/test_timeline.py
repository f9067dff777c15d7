"""The time strip's geometry."""

from copy import copy
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from fleet.models import Hire
from servicing.web.charts.timeline import LEAD, draw
from tests.factories import BookingFactory, DutyFactory, MachineFactory, WorkOrderFactory

TODAY = date(2026, 3, 2)


def strip(duties=(), bookings=(), hires=(), orders=(), days=100):
    machines = {duty.machine.pk: duty.machine for duty in [*duties, *bookings, *hires, *orders]}.values()
    return draw(
        machines=machines,
        duties=duties,
        bookings=bookings,
        hires=hires,
        orders=orders,
        today=TODAY,
        days=days,
    )


def x(day, days=100):
    return round(100 * LEAD + (day - TODAY).days * (100 - 100 * LEAD) / days, 2)


def test_a_duty_runs_from_early_to_the_end_of_late_with_a_tick_at_likely(db):
    duty = DutyFactory(early=date(2026, 3, 12), likely=date(2026, 3, 22), late=date(2026, 4, 10))
    (smear,) = strip([duty]).rows[0].smears
    assert smear.x == x(date(2026, 3, 12))
    assert smear.tick == x(date(2026, 3, 22))
    assert round(smear.x + smear.width, 1) == round(x(date(2026, 4, 11)), 1)


def test_what_ends_beyond_the_strip_is_cut_at_its_edge(db):
    duty = DutyFactory(early=date(2026, 3, 12), likely=date(2027, 3, 22), late=None)
    (smear,) = strip([duty]).rows[0].smears
    assert smear.tick is None
    assert round(smear.x + smear.width, 1) == 100


def test_what_comes_round_again_is_a_tick_alone(db):
    """Sixteen smears of a year would run into one; where something falls due the first time, there is one."""
    duty = DutyFactory(early=date(2026, 3, 12), likely=date(2026, 3, 22), late=date(2026, 4, 10))
    later = copy(duty)
    later.pk, later.early, later.likely, later.late = (
        None,
        date(2026, 5, 1),
        date(2026, 5, 9),
        date(2026, 6, 1),
    )
    drawn = strip([duty, later])
    first, again = drawn.rows[0].smears
    assert (first.again, again.again, drawn.comes_again) == (False, True, True)
    assert again.tick == x(date(2026, 5, 9))
    assert not strip([duty]).comes_again


def test_what_is_past_stands_before_today(db):
    duty = DutyFactory(machine__hours=Decimal("100.0"))
    row = strip([duty]).rows[0]
    (smear,) = row.smears
    assert (row.overdue, smear.x, smear.width) == (True, 0, 100 * LEAD)


def test_duties_close_together_are_one_stop(db):
    first = DutyFactory(likely=date(2026, 3, 10))
    near = DutyFactory(machine=first.machine, likely=date(2026, 3, 17))
    later = DutyFactory(machine=first.machine, likely=date(2026, 3, 18))
    smears = strip([first, near, later]).rows[0].smears
    assert [list(smear.stop.duties) for smear in smears] == [[first, near], [later]]


def test_a_hire_without_a_day_is_drawn_through_today_and_an_order_on_its_day(db):
    machine = MachineFactory()
    hire = Hire(machine=machine, hirer="M. Orchard", out_at=datetime(2026, 2, 1, tzinfo=UTC))
    order = WorkOrderFactory.build(machine=machine, planned_for=TODAY + timedelta(days=10))
    row = strip(hires=[hire], orders=[order]).rows[0]
    assert row.hires[0].x == 0
    assert round(row.hires[0].width, 2) == x(TODAY + timedelta(days=1))
    assert row.orders[0].x == x(TODAY + timedelta(days=10))


def test_a_booking_is_drawn_from_today_to_the_end_of_its_last_day_or_of_the_strip(db):
    machine = MachineFactory()
    days = {"machine": machine, "hours_a_day": Decimal("6.50")}
    now, far, beyond = (
        BookingFactory.build(**days, first_on=TODAY + timedelta(days=a), last_on=TODAY + timedelta(days=b))
        for a, b in ((-3, 4), (90, 150), (120, 130))
    )
    spans = strip(bookings=[now, far, beyond]).rows[0].bookings
    assert [(span.x, round(span.x + span.width, 2)) for span in spans] == [
        (x(TODAY), x(TODAY + timedelta(days=5))),
        (x(TODAY + timedelta(days=90)), 100),
    ]
    assert spans[0].title == "Booked for Gala Ros, 6.5 h a day"


def test_months_stand_at_their_first_day(db):
    assert [(day.title, day.x) for day in strip([DutyFactory()], days=100).days] == [
        ("Apr", x(date(2026, 4, 1))),
        ("May", x(date(2026, 5, 1))),
    ], "June the first lies so near the end that its words would be cut"


def test_a_strip_of_a_month_names_its_mondays_and_one_of_a_year_its_quarters(db):
    weeks = strip([DutyFactory()], days=30).days
    assert [day.title for day in weeks] == ["9\xa0Mar", "16\xa0Mar", "23\xa0Mar"]
    quarters = strip([DutyFactory()], days=365).days
    assert [(day.title, day.year) for day in quarters] == [
        ("Apr", ""), ("Jul", ""), ("Oct", ""), ("Jan", "2027"),
    ]  # fmt: skip


def test_a_day_close_to_today_is_left_to_the_desk_or_left_out(db):
    """Today is 2 March. The first of April lies 16 per cent on in 180 days, 8 in 365; the word takes 14."""
    assert not strip([DutyFactory()], days=180).days[0].near
    assert [day.near for day in strip([DutyFactory()], days=365).days] == [True, False, False, False]
    assert "Apr" not in [day.title for day in strip([DutyFactory()], days=1500).days]
