"""Whose address it is: what a caller writes is never believed, and an IPv6 subscriber is one caller."""

import pytest
from django.test import RequestFactory

from fleet.sign_in import addresses

pytestmark = pytest.mark.security
PROXY = "10.0.0.2"


def network(caller, forwarded=None):
    request = RequestFactory().get("/", REMOTE_ADDR=caller)
    if forwarded is not None:
        request.META["HTTP_X_FORWARDED_FOR"] = forwarded
    return addresses.network_of(request)


def test_without_a_proxy_nobody_is_believed_and_the_log_says_so_once(caplog):
    addresses._say_that_nobody_is_believed.cache_clear()
    assert network("203.0.113.9", "198.51.100.1") == "203.0.113.9"
    assert network("203.0.113.9", "198.51.100.2") == "203.0.113.9"
    assert caplog.text.count("HOURMARK_PROXIES is 0") == 1


@pytest.mark.parametrize(
    ("proxies", "forwarded", "expected"),
    [
        (1, "203.0.113.9", "203.0.113.9"),
        (1, "198.51.100.1, 203.0.113.9", "203.0.113.9"),  # the first was written by the caller
        (2, "198.51.100.1, 203.0.113.9, 10.0.0.3", "203.0.113.9"),
        (2, "203.0.113.9", PROXY),  # it came round one of them
        (1, "", PROXY),
        (1, "203.0.113.9, unknown", PROXY),
        (1, "198.51.100.1, 203.0.113.9:4711", "203.0.113.9"),
        (1, "[2001:db8:1:2::9]:4711", "2001:db8:1:2::"),
        (1, "::ffff:203.0.113.9", "203.0.113.9"),
        (1, "203.0.113.9, " + "9" * 5000, PROXY),
    ],
)
def test_the_entry_of_the_outermost_proxy_counts(settings, proxies, forwarded, expected):
    settings.PROXIES = proxies
    assert network(PROXY, forwarded) == expected


def test_one_subscriber_of_ipv6_is_one_caller():
    assert network("2001:db8:1:2::1") == network("2001:db8:1:2:ffff:ffff:ffff:ffff") == "2001:db8:1:2::"
    assert network("2001:db8:1:3::1") == "2001:db8:1:3::"
    assert addresses.shown("2001:db8:1:2::") == "2001:db8:1:2::/64"


@pytest.mark.parametrize("caller", ["", "unix:", "fe80::1%eth0", "not an address"])
def test_any_address_can_be_counted(caller):
    assert network(caller) in (addresses.UNTOLD, "fe80::")
