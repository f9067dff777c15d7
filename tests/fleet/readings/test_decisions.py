"""What people decide about readings, and how they undo it: all is kept, and no reading changes."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine

from fleet.core.errors import AskFirst, FleetError, NotAllowed, WrongState
from fleet.models import Decision, Machine, Reading
from fleet.readings import Submitted, decisions, meter_changes
from tests.factories import MemberFactory
from tests.fleet.readings.door import NOON, NOW, sent, take


@pytest.fixture
def held(in_farm, machine):
    return take(in_farm, sent(machine, 100), sent(machine, 150, days=1))[1].reading


def test_counting_a_held_reading(in_farm, machine, held):
    decisions.count(reading=held, member=in_farm.counter, note="It ran on two shifts with the old meter")
    held.refresh_from_db()
    assert (held.state, held.decided_by) == ("counted", in_farm.counter)
    assert (held.decision, held.decided_at is None) == ("It ran on two shifts with the old meter", False)
    machine.refresh_from_db()
    assert machine.hours == 150


def test_counting_what_would_set_the_machine_back_is_asked_about_first(in_farm, machine):
    """100 h, 150 h counted by a person, then 101 h is held as lower: to count it sets the machine back."""
    *_, high = take(in_farm, sent(machine, 100), sent(machine, 150, days=1))
    decisions.count(reading=high.reading, member=in_farm.counter)
    low = take(in_farm, sent(machine, 101, days=2))[0].reading
    assert low.state == "held"
    with pytest.raises(AskFirst, match=r"sets T-07 back from 150.0.h to 101.0.h") as asked:
        decisions.count(reading=low, member=in_farm.counter)
    assert asked.value.field == "confirmed"
    low.refresh_from_db()
    machine.refresh_from_db()
    assert (low.state, machine.hours) == ("held", 150)
    decisions.count(reading=low, member=in_farm.counter, confirmed=True)
    machine.refresh_from_db()
    assert machine.hours == 101


def test_counting_what_contradicts_what_was_counted_around_it_is_asked_about_first(in_farm, machine):
    take(in_farm, sent(machine, 100), sent(machine, 110, days=5))
    high, low = (
        each.reading for each in take(in_farm, sent(machine, 900, days=2), sent(machine, 40, days=3))
    )
    assert (high.state, low.state) == ("held", "held")
    with pytest.raises(AskFirst, match=r"110.0.h in total was counted later, on 6 March 2026"):
        decisions.count(reading=high, member=in_farm.counter)
    with pytest.raises(AskFirst, match=r"100.0.h in total was counted before it, on 1 March 2026"):
        decisions.count(reading=low, member=in_farm.counter)


def test_discarding_a_counted_reading_takes_the_hours_back(in_farm, machine):
    first, second = take(in_farm, sent(machine, 100), sent(machine, 110, days=1))
    decisions.discard(reading=second.reading, member=in_farm.manager, note="Other machine")
    machine.refresh_from_db()
    assert (machine.hours, machine.hours_at) == (100, NOON)
    decisions.discard(reading=first.reading, member=in_farm.manager, note="Other machine")
    machine.refresh_from_db()
    assert (machine.hours, machine.hours_at) == (0, None)


@pytest.mark.parametrize(
    ("shows", "day"), [("104", 2), ("99", -1)], ids=["read a day later", "read two days earlier"]
)
def test_a_wrong_reading_does_not_stand_in_the_way_of_its_correction(in_farm, machine, shows, day):
    _, wrong, _ = take(
        in_farm, sent(machine, 90, days=-3), sent(machine, 124, days=1), sent(machine, 130, days=9)
    )
    new = decisions.correct(
        reading=wrong.reading,
        shows=Decimal(shows),
        taken_at=NOON + timedelta(days=day),
        member=in_farm.manager,
    )
    assert (new.state, new.shows) == ("counted", Decimal(shows))


def test_what_stood_before_a_wrong_reading_is_known_to_its_correction(in_farm, machine):
    _, wrong = take(in_farm, sent(machine, 100), sent(machine, 120, days=1))
    with pytest.raises(FleetError, match="less than the 100") as error:
        decisions.correct(
            reading=wrong.reading,
            shows=Decimal(90),
            taken_at=NOON + timedelta(days=2),
            member=in_farm.manager,
        )
    assert error.value.field == "shows"


def test_correcting_keeps_both(in_farm, machine, held):
    new = decisions.correct(reading=held, shows=Decimal("115.0"), member=in_farm.manager, note="Misread")
    held.refresh_from_db()
    assert (held.state, held.shows, held.decision) == ("discarded", 150, "Misread")
    assert (new.state, new.corrects, new.taken_at, new.taken_by) == (
        "counted",
        held,
        held.taken_at,
        in_farm.manager,
    )
    machine.refresh_from_db()
    assert machine.hours == 115


def test_a_correction_has_to_be_plausible_and_new(in_farm, machine, held):
    for shows in (Decimal(90), Decimal(150), Decimal(-1), Decimal("NaN")):
        with pytest.raises(FleetError) as error:
            decisions.correct(reading=held, shows=shows, member=in_farm.manager)
        assert error.value.field == "shows"
    with pytest.raises(FleetError) as error:
        decisions.correct(
            reading=held,
            shows=Decimal(150),
            taken_at=datetime.now(UTC) + timedelta(days=9),
            member=in_farm.manager,
        )
    assert error.value.field == "taken_at"
    held.refresh_from_db()
    assert held.state == "held"


def test_a_counted_reading_can_be_corrected(in_farm, machine):
    (receipt,) = take(in_farm, sent(machine, 1000))
    decisions.correct(reading=receipt.reading, shows=Decimal(100), member=in_farm.manager)
    machine.refresh_from_db()
    assert machine.hours == 100


def test_who_comes_second_is_told_who_was_first(in_farm, held):
    stale = Reading.objects.get(pk=held.pk)
    decisions.discard(reading=held, member=in_farm.manager, note="Typed twice")
    name = str(in_farm.manager)
    with pytest.raises(WrongState, match=f"{name} has discarded this reading already"):
        decisions.count(reading=stale, member=in_farm.owner)
    with pytest.raises(WrongState):
        decisions.discard(reading=stale, member=in_farm.owner, note="Me too")
    with pytest.raises(WrongState):
        decisions.correct(reading=stale, shows=Decimal(110), member=in_farm.owner)
    held.refresh_from_db()
    assert (held.decided_by, held.decision) == (in_farm.manager, "Typed twice")


def test_a_reading_of_a_day_to_come_cannot_be_counted_but_corrected(in_farm, machine):
    take(in_farm, sent(machine, 100))
    (receipt,) = take(in_farm, Submitted(machine.pk, datetime.now(UTC) + timedelta(days=365), 110), now=None)
    assert receipt.code == "from_future"
    with pytest.raises(FleetError, match="future"):
        decisions.count(reading=receipt.reading, member=in_farm.manager)
    decisions.correct(
        reading=receipt.reading,
        shows=Decimal(110),
        taken_at=NOON + timedelta(days=5),
        member=in_farm.manager,
    )
    machine.refresh_from_db()
    assert machine.hours == 110


def test_discarding_needs_a_reason(in_farm, held):
    with pytest.raises(FleetError) as error:
        decisions.discard(reading=held, member=in_farm.manager, note=" ")
    assert error.value.field == "note"


def test_deciding_takes_the_right_and_the_organisation(in_farm, stranger, held):
    for member in (in_farm.technician, stranger.owner):
        with pytest.raises(NotAllowed):
            decisions.count(reading=held, member=member)
        with pytest.raises(NotAllowed):
            decisions.discard(reading=held, member=member, note="No")
        with pytest.raises(NotAllowed):
            decisions.correct(reading=held, shows=Decimal(110), member=member)


def test_who_took_a_reading_may_put_it_right_for_48_hours(in_farm, machine):
    """Whatever their role; nobody else of that role may."""
    other = MemberFactory(organisation=in_farm.organisation, role="technician")
    with time_machine.travel(NOW, tick=False) as clock:
        (receipt,) = take(in_farm, sent(machine, 100), member=in_farm.technician)
        clock.shift(timedelta(hours=48))
        with pytest.raises(NotAllowed):
            decisions.correct(reading=receipt.reading, shows=Decimal(90), member=other)
        new = decisions.correct(reading=receipt.reading, shows=Decimal(90), member=in_farm.technician)
        assert (new.shows, new.state) == (90, "counted")
        clock.move_to(NOW)
        (receipt,) = take(in_farm, sent(machine, 95, days=1), member=in_farm.technician)
        clock.shift(timedelta(hours=48, seconds=1))
        with pytest.raises(NotAllowed):
            decisions.correct(reading=receipt.reading, shows=Decimal(94), member=in_farm.technician)


# ---------------------------------------------------------------- swapped


def test_swapped_readings_are_put_where_they_belong(in_farm, machine, pair):
    one, two = pair
    mine, theirs = decisions.swap(reading=one, other=two, member=in_farm.manager)
    assert (mine.machine, mine.shows, mine.taken_at, mine.state) == (machine, 1206, two.taken_at, "counted")
    assert (theirs.machine, theirs.shows, theirs.taken_at) == (two.machine, 3009, one.taken_at)
    assert dict(Machine.objects.values_list("tag", "hours")) == {"T-07": 1206, "T-08": 3009}
    for wrong in pair:
        wrong.refresh_from_db()
        assert (wrong.state, wrong.decided_by) == ("discarded", in_farm.manager)
    assert one.decision == "Swapped with 1\u202f206.0\u00a0h of T-08."


def test_a_swap_is_undone_as_a_whole_and_can_be_done_again(in_farm, pair):
    decisions.swap(reading=pair[0], other=pair[1], member=in_farm.manager)
    figures = list(Reading.objects.order_by("pk").values_list("machine", "taken_at", "shows", "hours"))
    decisions.undo(reading=pair[1], member=in_farm.owner, note="They were right")
    assert dict(Machine.objects.values_list("tag", "hours")) == {"T-07": 1200, "T-08": 3000}
    assert [Reading.objects.get(pk=each.pk).state for each in pair] == ["held", "held"]
    decisions.swap(reading=pair[0], other=pair[1], member=in_farm.manager)
    assert dict(Machine.objects.values_list("tag", "hours")) == {"T-07": 1206, "T-08": 3009}
    again = list(Reading.objects.order_by("pk").values_list("machine", "taken_at", "shows", "hours"))
    assert again == figures  # nothing was deleted, changed or doubled


def test_a_swap_that_does_not_fit_either_is_refused_and_changes_nothing(in_farm, machine, pair):
    (third,) = take(in_farm, sent(machine, 1150, days=3))
    with pytest.raises(FleetError):
        decisions.swap(reading=third.reading, other=pair[0], member=in_farm.manager)  # of one machine
    with pytest.raises(FleetError):
        decisions.swap(reading=third.reading, other=pair[1], member=in_farm.manager)
    assert not Decision.objects.exists()
    assert not Reading.objects.filter(source="correction").exists()


# ---------------------------------------------------------------- undone


def everything():
    return list(Reading.objects.order_by("pk").values("pk", "machine", "taken_at", "shows", "hours"))


@pytest.mark.parametrize("what", ["count", "discard", "correct"])
def test_a_decision_about_a_held_reading_is_undone(in_farm, machine, held, what):
    if what == "correct":
        decisions.correct(reading=held, shows=Decimal(115), member=in_farm.counter)
    else:
        getattr(decisions, what)(reading=held, member=in_farm.counter, note="Sure")
    before = everything()
    decisions.undo(reading=held, member=in_farm.manager, note="Not so sure")
    assert (held.state, held.decided_by, held.decided_at, held.decision) == ("held", None, None, "")
    machine.refresh_from_db()
    assert machine.hours == 100
    assert everything() == before
    first, last = held.decisions.all()
    assert (first.by, first.undone_by) == (in_farm.counter, last)
    assert (last.by, last.note, last.was, last.became) == (
        in_farm.manager,
        "Not so sure",
        "discarded" if what != "count" else "counted",
        "held",
    )


def test_a_correction_can_be_undone_and_made_again(in_farm, machine, held):
    first = decisions.correct(reading=held, shows=Decimal(115), member=in_farm.counter)
    decisions.undo(reading=held, member=in_farm.manager)
    assert Reading.objects.get(pk=first.pk).state == "discarded"
    again = decisions.correct(reading=held, shows=Decimal(115), member=in_farm.counter)
    assert (again.pk, again.state, held.state) == (first.pk, "counted", "discarded")
    machine.refresh_from_db()
    assert machine.hours == 115


def test_a_discarded_counted_reading_counts_again_unless_it_no_longer_fits(in_farm, machine):
    (one,) = take(in_farm, sent(machine, 110, days=1))
    decisions.discard(reading=one.reading, member=in_farm.manager, note="No")
    decisions.undo(reading=one.reading, member=in_farm.manager)
    assert one.reading.state == "counted"
    decisions.discard(reading=one.reading, member=in_farm.manager, note="No")
    take(in_farm, sent(machine, 104, days=2))
    decisions.undo(reading=one.reading, member=in_farm.manager)
    assert (one.reading.state, one.reading.suggestion) == ("held", 101)


def test_there_must_be_a_decision_and_what_it_made_must_stand(in_farm, held):
    with pytest.raises(WrongState, match="no decision"):
        decisions.undo(reading=held, member=in_farm.manager)
    new = decisions.correct(reading=held, shows=Decimal(115), member=in_farm.counter)
    decisions.discard(reading=new, member=in_farm.counter, note="Wrong again")
    with pytest.raises(WrongState, match="decided about since"):
        decisions.undo(reading=held, member=in_farm.manager)
    decisions.undo(reading=new, member=in_farm.manager)
    decisions.undo(reading=held, member=in_farm.manager)
    assert (held.state, Reading.objects.get(pk=new.pk).state) == ("held", "discarded")


def test_what_the_meters_change_counted_is_not_undone(in_farm, machine):
    take(in_farm, sent(machine, 4800))
    (low,) = take(in_farm, sent(machine, 8, days=2))
    at = NOON + timedelta(days=1)
    meter_changes.replace(
        machine=machine, at=at, old_shows=Decimal(4810), new_shows=Decimal(0), member=in_farm.manager
    )
    low.reading.refresh_from_db()
    assert (low.reading.state, low.reading.decisions.get().kind) == ("counted", "meter")
    with pytest.raises(WrongState, match="meter change"):
        decisions.undo(reading=low.reading, member=in_farm.manager)


def test_swapping_and_taking_back_take_the_right_and_the_organisation(in_farm, stranger, pair):
    for member in (in_farm.technician, stranger.owner):
        with pytest.raises(NotAllowed):
            decisions.swap(reading=pair[0], other=pair[1], member=member)
        with pytest.raises(NotAllowed):
            decisions.undo(reading=pair[0], member=member)


def test_a_decision_is_never_changed(in_farm, held):
    decisions.count(reading=held, member=in_farm.manager)
    decision = Decision.objects.get()
    decision.note = "another"
    with pytest.raises(TypeError):
        decision.save()
