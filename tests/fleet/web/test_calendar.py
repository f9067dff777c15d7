"""The pages of bookings and holidays, and the list of bookings over the API."""

from datetime import UTC, date, datetime

import pytest

from fleet.models import Booking, Holiday
from tests.factories import BookingFactory, DutyFactory, HolidayFactory, MachineFactory

NOW = datetime(2026, 6, 1, 10, 0, tzinfo=UTC)
BOOKED = {
    "kind": "hire",
    "what": "Gala Ros",
    "first_on": "2026-06-08",
    "last_on": "2026-06-12",
    "hours_a_day": "6,5",
}
pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_a_machine_is_booked_changed_and_given_back(farm, machine):
    DutyFactory(machine=machine)  # with something due, there is a strip
    counter = farm.client("counter")
    answer = counter.post(f"/machines/{machine.pk}/book/", BOOKED, follow=True)
    page = answer.content.decode()
    assert answer.redirect_chain == [(f"/machines/{machine.pk}/", 302)]
    assert "Hire, 6.5 h a day" in page
    assert "Booked for Gala Ros, 6.5 h a day" in page  # the block on the strip
    with farm.scope():
        booking = Booking.objects.get()
    address = f"/bookings/{booking.pk}/"
    assert f'href="{address}"' in page
    assert 'value="2026-06-12"' in counter.get(address).content.decode()
    assert counter.post(address, BOOKED | {"last_on": "2026-06-10"}).status_code == 302
    assert counter.post(f"{address}withdraw/").status_code == 302
    booking.refresh_from_db()
    assert (booking.last_on, booking.withdrawn_by) == (date(2026, 6, 10), farm.counter)
    assert f'href="{address}"' not in counter.get(f"/machines/{machine.pk}/").content.decode()


def test_a_taken_day_is_said_at_its_field(farm, machine):
    BookingFactory(machine=machine)
    answer = farm.client("counter").post(f"/machines/{machine.pk}/book/", BOOKED)
    assert answer.status_code == 422
    assert answer.context["form"].errors.keys() == {"first_on"}


def test_the_counter_is_not_asked_for_a_job_and_opens_none(farm, machine):
    job = BookingFactory(machine=machine, kind="job", what="Ditches")
    counter = farm.client("counter")
    assert "Job of our own" not in counter.get(f"/machines/{machine.pk}/book/").content.decode()
    assert counter.post(f"/machines/{machine.pk}/book/", BOOKED | {"kind": "job"}).status_code == 422
    assert counter.get(f"/bookings/{job.pk}/").status_code == 403
    assert counter.post(f"/bookings/{job.pk}/withdraw/").status_code == 403
    page = counter.get(f"/machines/{machine.pk}/").content.decode()
    assert "Ditches" in page
    assert f"/bookings/{job.pk}/" not in page


def test_a_holiday_is_entered_changed_and_taken_out(farm):
    manager = farm.client("manager")
    entered = {"name": "Fair", "first_on": "2026-08-15", "last_on": "", "yard": ""}
    assert manager.post("/holidays/new/", entered).url == "/holidays/"
    page = manager.get("/holidays/").content.decode()
    assert "Fair" in page
    assert "All yards" in page
    with farm.scope():
        holiday = Holiday.objects.get()
    assert holiday.last_on == date(2026, 8, 15)
    change = entered | {"last_on": "2026-08-16", "yard": farm.yard.pk}
    assert manager.post(f"/holidays/{holiday.pk}/", change).status_code == 302
    holiday.refresh_from_db()
    assert (holiday.last_on, holiday.yard) == (date(2026, 8, 16), farm.yard)
    assert manager.post(f"/holidays/{holiday.pk}/remove/").status_code == 302
    for page in ("/holidays/", "/holidays/?past=1"):
        assert f"/holidays/{holiday.pk}/" not in manager.get(page).content.decode()


def test_a_holiday_behind_is_on_its_own_page(farm):
    HolidayFactory(organisation=farm.organisation, first_on=date(2026, 5, 1), last_on=date(2026, 5, 1))
    manager = farm.client("manager")
    assert "Midsummer" not in manager.get("/holidays/").content.decode()
    assert "Midsummer" in manager.get("/holidays/?past=1").content.decode()


def test_a_holiday_that_ends_before_it_begins_is_refused(farm):
    entered = {"name": "Fair", "first_on": "2026-08-15", "last_on": "2026-08-14", "yard": ""}
    answer = farm.client("manager").post("/holidays/new/", entered)
    assert answer.status_code == 422
    assert answer.context["form"].errors.keys() == {"last_on"}


def test_bookings_over_the_api(farm, stranger, machine):
    booking = BookingFactory(machine=machine)
    BookingFactory(machine=machine, withdrawn_at=NOW, what="Gone")
    BookingFactory(machine=MachineFactory(organisation=stranger.organisation))
    api = farm.api("technician")
    rows = api.get("/api/v1/bookings").json()["results"]
    assert rows == [
        {
            "id": booking.pk,
            "machine": machine.pk,
            "kind": "hire",
            "what": "Gala Ros",
            "first_on": "2026-06-08",
            "last_on": "2026-06-12",
            "hours_a_day": "6.00",
            "made_at": rows[0]["made_at"],
        }
    ]
    for query, found in (
        ("since=2026-06-12", 1),
        ("since=2026-06-13", 0),
        ("until=2026-06-08", 1),
        ("until=2026-06-07", 0),
        (f"machine={machine.pk + 1}", 0),
        ("kind=job", 0),
    ):
        assert api.get(f"/api/v1/bookings?{query}").json()["count"] == found, query
