"""What is near enough to be done in the same stop."""

from datetime import date, timedelta

from servicing.planning.bundle import Candidate, stop_day, suggest

TODAY = date(2026, 5, 4)


def in_days(days):
    return TODAY + timedelta(days=days)


def reasons(rows, **kwargs):
    return {s.id: (s.chosen, s.near, s.reason) for s in suggest(rows, today=TODAY, soon_days=14, **kwargs)}


def test_past_and_soon_are_chosen_and_what_follows_closely_is_near():
    rows = [
        Candidate(1, True, in_days(-3)),
        Candidate(2, False, in_days(14)),
        Candidate(3, False, in_days(21)),
        Candidate(4, False, in_days(22)),
        Candidate(5, False, None),
    ]
    assert reasons(rows) == {
        1: (True, False, "overdue"),
        2: (True, False, "likely due in 14 days"),
        3: (False, True, "due 21 days later: same visit, same down time"),
        4: (False, False, "likely due 22 days after this visit"),
        5: (False, False, "not likely within three years"),
    }


def test_near_is_counted_from_the_day_the_machine_is_stopped():
    rows = [
        Candidate(1, False, in_days(10)),
        Candidate(2, False, in_days(22)),
        Candidate(3, False, in_days(32)),
    ]
    assert reasons(rows)[2] == (False, True, "due 12 days later: same visit, same down time")
    assert reasons(rows)[3][:2] == (False, False)


def test_without_a_stop_nothing_is_near():
    assert reasons([Candidate(1, False, in_days(16))]) == {1: (False, False, "likely due in 16 days")}


def test_stop_day():
    later = Candidate(1, False, in_days(9))
    assert stop_day([later], today=TODAY) == in_days(9)
    assert stop_day([later, Candidate(2, True, None)], today=TODAY) == TODAY
    assert stop_day([later], today=TODAY, planned_for=in_days(3)) == in_days(3)
    assert stop_day([], today=TODAY) == TODAY
    assert stop_day([Candidate(1, False, in_days(-9))], today=TODAY) == TODAY


def test_what_was_left_until_later_is_not_chosen_before_that_day():
    later = Candidate(1, True, in_days(-3), deferred_until=in_days(1))
    assert reasons([later]) == {1: (False, False, "deferred until later")}
    assert reasons([Candidate(1, True, in_days(-3), deferred_until=TODAY)])[1][0]


def test_a_likely_day_that_has_come_is_now():
    assert reasons([Candidate(1, False, TODAY)])[1] == (True, False, "likely due now")
    assert reasons([Candidate(1, False, in_days(1))])[1] == (True, False, "likely due in 1 day")
