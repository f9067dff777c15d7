"""An attachment's hours follow its hosts', in whatever order things become known."""

from datetime import UTC, datetime, timedelta
from decimal import ROUND_HALF_EVEN, Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet import readings
from fleet.core.errors import FleetError, WrongState
from fleet.machines import attachments, register, retirement
from fleet.models import Attachment, Machine, Mounting, Reading
from fleet.readings import Submitted, attachment_hours, decisions, meter_changes

D = Decimal
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def day(number):
    return NOON + timedelta(days=number)


def ran(house, machine, *hours_on_days):
    rows = [Submitted(machine.pk, day(number), hours) for number, hours in hours_on_days]
    return readings.take(organisation=house.organisation, rows=rows, source="page", sender="page")


def mount(house, attachment, machine, number):
    return attachments.mount(attachment=attachment, machine=machine, at=day(number), member=house.technician)


def remove(house, attachment, number):
    return attachments.remove(attachment=attachment, at=day(number), member=house.technician)


def hours_of(machine):
    return Machine.objects.get(pk=machine.pk).hours


@pytest.fixture
def tractor(in_farm):
    return in_farm.machine(tag="T-01")


def test_one_swapped_for_another_between_two_readings_shares_their_hours_with_it(in_farm, tractor):
    first, second = in_farm.attachment(), in_farm.attachment()
    ran(in_farm, tractor, (0, 100))
    mount(in_farm, first, tractor, 0)
    remove(in_farm, first, 3)
    mount(in_farm, second, tractor, 3)
    assert [hours_of(each) for each in (first, second)] == [0, 0]  # nothing is known of these days yet
    ran(in_farm, tractor, (4, 140))
    assert [hours_of(each) for each in (first, second)] == [30, 10]


def test_two_hosts_are_added_up(in_farm, tractor):
    other, cutter = in_farm.machine(), in_farm.attachment(hours_before=D(5))
    ran(in_farm, tractor, (0, 100), (10, 150))
    ran(in_farm, other, (0, 2000), (10, 2020))
    mount(in_farm, cutter, tractor, 2)
    remove(in_farm, cutter, 4)
    mount(in_farm, cutter, other, 5)
    assert hours_of(cutter) == 5 + 10 + 10
    ran(in_farm, other, (20, 2060))
    assert hours_of(cutter) == 5 + 10 + 50
    ran(in_farm, tractor, (20, 300))
    assert hours_of(cutter) == 5 + 10 + 50


def test_a_discarded_reading_of_the_host_takes_its_hours_along(in_farm, tractor):
    cutter = in_farm.attachment(hours_before=D(7))
    ran(in_farm, tractor, (0, 100), (10, 120))
    mount(in_farm, cutter, tractor, 0)
    (receipt,) = ran(in_farm, tractor, (20, 190))
    assert hours_of(cutter) == 97
    decisions.discard(reading=receipt.reading, member=in_farm.manager, note="Misread.")
    cutter.refresh_from_db()
    assert (cutter.hours, cutter.hours_at) == (27, day(10))
    assert cutter.projection_wanted_at is not None


def test_a_corrected_reading_moves_where_the_mounting_began(in_farm, tractor):
    cutter = in_farm.attachment()
    (_, receipt) = ran(in_farm, tractor, (0, 100), (10, 140))
    mounting = mount(in_farm, cutter, tractor, 5)
    ran(in_farm, tractor, (20, 180))
    assert (mounting.hours_on, hours_of(cutter)) == (120, 60)
    decisions.correct(reading=receipt.reading, shows=D(120), member=in_farm.manager)
    mounting.refresh_from_db()
    assert (mounting.hours_on, hours_of(cutter)) == (110, 70)


def test_a_new_meter_on_the_host_changes_nothing(in_farm, tractor):
    cutter = in_farm.attachment()
    ran(in_farm, tractor, (0, 100))
    mount(in_farm, cutter, tractor, 0)
    meter_changes.replace(
        machine=tractor, at=day(10), old_shows=D(130), new_shows=D(0), member=in_farm.manager
    )
    ran(in_farm, tractor, (20, 25))
    assert hours_of(cutter) == 55


def test_before_the_hosts_first_reading_nothing_is_counted(in_farm, tractor):
    cutter = in_farm.attachment()
    mount(in_farm, cutter, tractor, 0)
    ran(in_farm, tractor, (10, 1500))  # nobody knows when these were run
    assert hours_of(cutter) == 0
    ran(in_farm, tractor, (20, 1530))
    assert hours_of(cutter) == 30


def test_it_has_no_meter(in_farm, tractor):
    cutter = in_farm.attachment(tag="RC-1")
    (receipt,) = readings.take(
        organisation=in_farm.organisation,
        rows=[Submitted("rc-1", day(1), 20)],
        source="page",
        sender="page",
    )
    assert (receipt.state, receipt.code) == ("refused", "no_meter")
    assert receipt.reason == "RC-1 has no meter; it counts the hours of the machine it is mounted on."
    assert not Reading.objects.exists()
    with pytest.raises(FleetError, match="RC-1 has no meter"):
        meter_changes.roll_over(machine=cutter, at=day(1), wraps_at=D(1000), member=in_farm.manager)


def test_it_hangs_on_machines_only(in_farm, tractor):
    first, second = in_farm.attachment(), in_farm.attachment()
    with pytest.raises(FleetError) as refused:
        mount(in_farm, first, Machine.objects.get(pk=second.pk), 1)
    assert refused.value.field == "machine"
    Machine.objects.filter(pk=tractor.pk).update(retired_on=day(0).date())
    with pytest.raises(WrongState, match="T-01 is retired"):
        mount(in_farm, first, tractor, 1)


def test_it_is_not_retired_while_it_hangs(in_farm, tractor):
    cutter = in_farm.attachment()
    mount(in_farm, cutter, tractor, 1)
    for machine, said in ((cutter, "It is mounted on T-01"), (tractor, f"{cutter} is still mounted on it")):
        with pytest.raises(FleetError, match=said):
            retirement.retire(machine=machine, on=day(2).date(), member=in_farm.manager)
    remove(in_farm, cutter, 2)
    retirement.retire(machine=cutter, on=day(2).date(), member=in_farm.manager)
    with pytest.raises(WrongState, match="is retired"):
        mount(in_farm, cutter, tractor, 3)


def test_changing_its_facts_keeps_its_hours(in_farm, tractor):
    cutter = in_farm.attachment(hours_before=D(9))
    ran(in_farm, tractor, (0, 100), (10, 140))
    mount(in_farm, cutter, tractor, 0)
    facts = register.Facts(
        type=cutter.type, yard=cutter.yard, tag="RC-9", in_service_on=cutter.in_service_on, condition="dust"
    )
    register.change(machine=Machine.objects.get(pk=cutter.pk), facts=facts, member=in_farm.manager)
    assert Attachment.objects.values_list("tag", "hours", "condition").get() == ("RC-9", 49, "dust")


def test_hours_come_in_by_as_many_queries_for_many_attachments(in_farm, tractor):
    ran(in_farm, tractor, (0, 100))
    counted = []
    for number in (1, 2):
        for _ in range(number):
            cutter = in_farm.attachment()
            mount(in_farm, cutter, tractor, 0)
        with CaptureQueriesContext(connection) as queries:
            ran(in_farm, tractor, (number, 100 + 4 * number))
        counted.append(len(queries))
    assert counted[0] == counted[1]


def test_the_course_is_the_hosts_between_mounting_and_taking_off(in_farm, tractor):
    cutter = in_farm.attachment(hours_before=D(10))
    other = in_farm.machine()
    ran(in_farm, tractor, (0, 100), (4, 140), (6, 150), (10, 190))
    ran(in_farm, other, (0, 500), (20, 600))
    mount(in_farm, cutter, tractor, 2)
    remove(in_farm, cutter, 8)
    mount(in_farm, cutter, other, 12)
    with CaptureQueriesContext(connection) as queries:
        points = attachment_hours.histories([cutter.pk], until=day(30))
    assert len(queries) == 2
    assert [(point.at, point.hours) for point in points] == [
        (day(2), D(10)),
        (day(4), D(30)),
        (day(6), D(40)),
        (day(8), D(60)),
        (day(12), D(60)),
        (day(20), D(100)),
    ]
    assert len({point.mounting for point in points}) == 2
    assert attachment_hours.histories([cutter.pk], until=day(5)) == points[:2]


# ---- whatever the order of events: hours = hours before + what hosts ran while it was mounted

HOSTS, CUTTERS = 2, 2
EVENTS = st.lists(
    st.one_of(
        st.tuples(st.just("read"), st.integers(0, HOSTS - 1), st.integers(0, 40)),
        st.tuples(st.just("discard"), st.integers(0, 20), st.just(0)),
        st.tuples(st.just("mount"), st.integers(0, CUTTERS - 1), st.integers(0, HOSTS - 1)),
        st.tuples(st.just("remove"), st.integers(0, CUTTERS - 1), st.just(0)),
    ),
    min_size=4,
    max_size=25,
)


def course_at(counted, at):
    """Hours on the straight line through (moment, hours), level beyond its ends; worked out here."""
    before = [row for row in counted if row[0] <= at]
    after = [row for row in counted if row[0] > at]
    if not before or not after:
        return (before[-1] if before else after[0])[1]
    (since, low), (until, high) = before[-1], after[0]
    share = D((at - since) / (until - since))
    return (low + (high - low) * share).quantize(D("0.01"), ROUND_HALF_EVEN)


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(events=EVENTS, hours=st.lists(st.integers(0, 20), min_size=45, max_size=45))
def test_hours_are_those_of_its_hosts_for_any_order_of_events(in_farm, events, hours):
    hosts = [in_farm.machine() for _ in range(HOSTS)]
    cutters = [in_farm.attachment(hours_before=D(10 * number)) for number in range(CUTTERS)]
    clock = 0.0
    for what, which, other in events:
        clock += 0.75  # mountings follow each other in time; readings may come in late
        try:
            if what == "read":
                ran(in_farm, hosts[which], (other, 1000 + sum(hours[: other + 1])))
            elif what == "discard":
                counted = list(Reading.objects.counted().filter(machine__in=hosts).order_by("pk"))
                if counted:
                    reading = counted[which % len(counted)]
                    decisions.discard(reading=reading, member=in_farm.manager, note="For the test.")
            elif what == "mount":
                mount(in_farm, cutters[which], hosts[other], clock)
            else:
                remove(in_farm, cutters[which], clock)
        except WrongState:
            pass  # mounted already, or on no machine
        _hold_to_the_rule(hosts, cutters)


def _hold_to_the_rule(hosts, cutters):
    courses = {
        host.pk: list(
            Reading.objects.counted()
            .filter(machine=host)
            .order_by("taken_at", "pk")
            .values_list("taken_at", "hours")
        )
        for host in hosts
    }
    for cutter in cutters:
        expected = cutter.hours_before
        for mounting in Mounting.objects.filter(attachment=cutter):
            course = courses[mounting.machine_id]
            if course:
                end = mounting.removed_at or max(course[-1][0], mounting.mounted_at)
                expected += course_at(course, end) - course_at(course, mounting.mounted_at)
        assert hours_of(cutter) == expected
