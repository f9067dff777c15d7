"""What each step of an order shows, as a browser without JavaScript sees it; who may open it."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from servicing import workorders
from servicing.models import Duty
from tests.servicing.web.order_pages import NOW, names, now
from tests.servicing.web.steps.step_pages import address, step_of, visible

pytestmark = pytest.mark.time_machine(NOW, tick=False)


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
        workorders.hold(order=started, member=farm.manager, revision=2, reason="Belt ordered.")
    page = farm.client("technician").get(address(started, 4)).content.decode()
    assert "It is on hold: Belt ordered." in page
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
        workorders.cancel(order=started, member=farm.manager, revision=2, reason="again")
        duties = [Duty.objects.get(pk=belt.pk)]
        order = workorders.plan(member=farm.manager, machine=machine, duties=duties)
        one = workorders.start(order=order, member=farm.technician, revision=1)
    with CaptureQueriesContext(connection) as single:
        client.get(address(one))
    assert len(single) == len(two)
