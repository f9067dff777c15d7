"""How many are too many, each limit at its boundary."""

from datetime import UTC, datetime, timedelta

import pytest

from fleet.sign_in import limits
from fleet.sign_in.limits import Guess, Tries, Wait, Why

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
INSTANT = timedelta(microseconds=1)
HERE = Guess("name:ada", "192.0.2.1")
KNOWN = Guess("name:ada", "192.0.2.1", "tablet")


def tries(wrong, *, key="name:ada", network="192.0.2.1", device="", ago=timedelta(0)):
    return Tries(key, network, device, wrong, NOW - ago)


def test_the_fifth_wrong_password_from_one_address_makes_it_wait_a_quarter_of_an_hour():
    assert limits.wait(HERE, [tries(4)], NOW) is None
    assert limits.wait(HERE, [tries(5)], NOW) == Wait(NOW + timedelta(minutes=15), Why.PAIR)


def test_a_wait_is_over_to_the_instant():
    minutes = timedelta(minutes=15)
    assert limits.wait(HERE, [tries(5, ago=minutes - INSTANT)], NOW) == Wait(NOW + INSTANT, Why.PAIR)
    assert limits.wait(HERE, [tries(5, ago=minutes)], NOW) is None


def test_the_thirtieth_for_any_names_makes_the_address_wait_until_enough_are_old():
    others = [
        tries(4, key=f"name:{n}", ago=timedelta(minutes=n)) for n in range(1, 8)
    ]  # 28, the last of them
    assert limits.wait(HERE, [*others, tries(1)], NOW) is None
    wait = limits.wait(HERE, [*others, tries(2)], NOW)
    assert wait == Wait(NOW + timedelta(minutes=15 - 7), Why.ADDRESS)


def test_other_addresses_count_for_the_name_alone_and_only_slow_it():
    many = [tries(1, network=f"192.0.2.{n}", ago=timedelta(seconds=59)) for n in range(10, 30)]
    assert limits.wait(HERE, many[:19], NOW) is None
    assert limits.wait(HERE, many, NOW) == Wait(NOW + timedelta(seconds=1), Why.ACCOUNT)
    assert (
        limits.wait(
            HERE, [tries(each.wrong, network=each.network, ago=timedelta(minutes=1)) for each in many], NOW
        )
        is None
    )
    assert limits.wait(Guess("name:bo", "192.0.2.1"), many, NOW) is None


def test_wrong_ones_slow_a_name_for_an_hour():
    hour = timedelta(hours=1)
    last = tries(1, network="192.0.2.9", ago=timedelta(seconds=30))
    assert limits.wait(HERE, [tries(19, network="192.0.2.8", ago=hour - INSTANT), last], NOW) is not None
    assert limits.wait(HERE, [tries(19, network="192.0.2.8", ago=hour), last], NOW) is None


def test_a_known_browser_has_ten_tries_of_its_own():
    siege = [tries(5), *(tries(40, network=f"198.51.100.{n}") for n in range(9))]
    assert limits.wait(KNOWN, [*siege, tries(9, device="tablet")], NOW) is None
    assert limits.wait(KNOWN, [*siege, tries(10, device="tablet")], NOW) is not None
    assert limits.wait(KNOWN, [tries(10, device="tablet")], NOW) is None  # then it is like any other
    assert limits.wait(KNOWN, [*siege, tries(10, device="tablet", key="name:bo")], NOW) is None


def test_what_a_known_browser_gets_wrong_holds_up_nobody_else():
    assert limits.wait(HERE, [tries(99, device="tablet")], NOW) is None


def test_who_was_let_in_waits_for_their_own_mistakes_alone():
    strangers = [tries(40, network="198.51.100.1"), tries(30, key="name:bo")]
    assert limits.wait(HERE, strangers, NOW) is not None
    assert limits.wait(HERE, strangers, NOW, let_in=True) is None
    assert limits.wait(HERE, [*strangers, tries(5)], NOW, let_in=True).why == Why.PAIR


def test_after_a_quiet_quarter_of_an_hour_the_count_begins_again():
    minutes = timedelta(minutes=15)
    assert limits.counted(None, NOW) == 1
    assert limits.counted(tries(4, ago=minutes - INSTANT), NOW) == 5
    assert limits.counted(tries(4, ago=minutes), NOW) == 1


@pytest.mark.parametrize("into", [timedelta(0), timedelta(minutes=15) - INSTANT])
def test_a_stretch_ends_at_the_quarter(into):
    number, until = limits.stretch(NOW + into)
    assert until == NOW + timedelta(minutes=15)
    assert limits.stretch(until)[0] == number + 1
