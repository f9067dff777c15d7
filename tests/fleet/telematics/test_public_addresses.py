"""Only the public internet is asked: each block that a registry sets apart is refused, however it is written.

Sources: the IANA IPv4 and IPv6 Special-Purpose Address Registries and the documents that they name, beside
each row.
"""

import ipaddress
import socket
from urllib.parse import urlsplit

import pytest

from fleet.telematics import allowed_addresses
from fleet.telematics.public_addresses import is_public
from fleet.telematics.snapshot import SnapshotRefused

pytestmark = pytest.mark.security

APART = {
    "0.0.0.0": "this host, RFC 1122",
    "0.255.255.255": "this network, RFC 791",
    "10.0.0.0": "private use, RFC 1918",
    "10.255.255.255": "private use, RFC 1918",
    "100.64.0.0": "shared, RFC 6598",
    "100.127.255.255": "shared, RFC 6598",
    "127.0.0.1": "loopback, RFC 1122",
    "169.254.169.254": "link local, RFC 3927",
    "172.16.0.0": "private use, RFC 1918",
    "172.31.255.255": "private use, RFC 1918",
    "192.0.0.8": "dummy address, RFC 7600",
    "192.0.0.170": "NAT64 discovery, RFC 7050",
    "192.0.2.1": "documentation, RFC 5737",
    "192.31.196.1": "AS112, RFC 7535",
    "192.52.193.1": "AMT, RFC 7450",
    "192.88.99.1": "6to4 relay, RFC 7526",
    "192.168.255.255": "private use, RFC 1918",
    "192.175.48.1": "AS112, RFC 7534",
    "198.18.0.0": "benchmarking, RFC 2544",
    "198.19.255.255": "benchmarking, RFC 2544",
    "198.51.100.1": "documentation, RFC 5737",
    "203.0.113.255": "documentation, RFC 5737",
    "224.0.0.1": "multicast, RFC 5771",
    "239.255.255.255": "multicast, RFC 5771",
    "240.0.0.1": "reserved, RFC 1112",
    "255.255.255.255": "broadcast, RFC 919",
    "::": "unspecified, RFC 4291",
    "::1": "loopback, RFC 4291",
    "::127.0.0.1": "IPv4-compatible, RFC 4291",
    "::8.8.8.8": "IPv4-compatible, RFC 4291",
    "::ffff:127.0.0.1": "IPv4-mapped, RFC 4291",
    "::ffff:169.254.169.254": "IPv4-mapped, RFC 4291",
    "::ffff:224.0.0.1": "IPv4-mapped, RFC 4291",
    "::ffff:0:127.0.0.1": "IPv4-translated, RFC 2765",
    "64:ff9b::10.0.0.1": "NAT64, RFC 6052",
    "64:ff9b::127.0.0.1": "NAT64, RFC 6052",
    "64:ff9b:1::1": "local translation, RFC 8215",
    "64:ff9b:1:ffff:ffff:ffff:ffff:ffff": "local translation, RFC 8215",
    "100::1": "discard only, RFC 6666",
    "100:0:0:1::1": "dummy prefix, RFC 9780",
    "2001::1": "Teredo, RFC 4380",
    "2001:0:4136:e378:8000:63bf:3fff:fdd2": "Teredo, RFC 4380",
    "2001:1::1": "port control anycast, RFC 7723",
    "2001:2::1": "benchmarking, RFC 5180",
    "2001:3::1": "AMT, RFC 7450",
    "2001:4:112::1": "AS112, RFC 7535",
    "2001:10::1": "ORCHID, RFC 4843",
    "2001:20::1": "ORCHIDv2, RFC 7343",
    "2001:30::1": "drone identifiers, RFC 9374",
    "2001:1ff:ffff:ffff:ffff:ffff:ffff:ffff": "protocol assignments, RFC 2928",
    "2001:db8::1": "documentation, RFC 3849",
    "2001:db8:ffff:ffff:ffff:ffff:ffff:ffff": "documentation, RFC 3849",
    "2002:7f00:1::": "6to4 of 127.0.0.1, RFC 3056",
    "2002:a9fe:a9fe::1": "6to4 of 169.254.169.254, RFC 3056",
    "2002:c0a8:101::": "6to4 of 192.168.1.1, RFC 3056",
    "2620:4f:8000::1": "AS112, RFC 7534",
    "3fff::1": "documentation, RFC 9637",
    "3fff:fff:ffff:ffff:ffff:ffff:ffff:ffff": "documentation, RFC 9637",
    "4000::1": "not given out, IANA IPv6 address space",
    "5f00::1": "segment routing, RFC 9602",
    "fc00::1": "unique local, RFC 4193",
    "fdff:ffff:ffff:ffff:ffff:ffff:ffff:ffff": "unique local, RFC 4193",
    "fe80::1": "link local, RFC 4291",
    "febf:ffff:ffff:ffff:ffff:ffff:ffff:ffff": "link local, RFC 4291",
    "fec0::1": "site local, RFC 3879",
    "feff:ffff:ffff:ffff:ffff:ffff:ffff:ffff": "site local, RFC 3879",
    "ff02::1": "multicast, RFC 4291",
    "ff0e::1": "multicast of global scope, RFC 4291",
    "fe80::1%eth0": "a zone, RFC 4007",
    "2606:4700:4700::1111%eth0": "a zone, RFC 4007",
}
PUBLIC = [
    "1.1.1.1",
    "8.8.8.8",
    "9.255.255.255",
    "11.0.0.0",
    "100.63.255.255",
    "100.128.0.0",
    "172.15.255.255",
    "172.32.0.0",
    "198.17.255.255",
    "198.20.0.0",
    "223.255.255.255",
    "2001:200::1",
    "2001:4860:4860::8888",
    "2606:4700:4700::1111",
    "2a00:1450:4001:80b::200e",
    "3ffe:ffff::1",
    "::ffff:8.8.8.8",
    "64:ff9b::8.8.8.8",
    "2002:808:808::1",
]


@pytest.mark.parametrize("address", APART, ids=[f"{address}, {why}" for address, why in APART.items()])
def test_what_a_registry_sets_apart_is_not_public(address):
    assert not is_public(ipaddress.ip_address(address))


@pytest.mark.parametrize("address", PUBLIC)
def test_what_lies_beside_it_is_public(address):
    assert is_public(ipaddress.ip_address(address))


def found_at(monkeypatch, *addresses):
    """Let every name be at these addresses."""

    def look_up(host, port, **kwargs):
        return [
            (family, socket.SOCK_STREAM, 6, "", (each, port))
            for each in addresses
            for family in [socket.AF_INET6 if ":" in each else socket.AF_INET]
        ]

    monkeypatch.setattr(allowed_addresses.socket, "getaddrinfo", look_up)


@pytest.mark.parametrize("address", APART)
def test_a_name_that_leads_there_is_not_asked_even_beside_a_public_one(address, monkeypatch):
    found_at(monkeypatch, "8.8.8.8", address)
    with pytest.raises(SnapshotRefused, match=r"feed\.example is an address in a private network"):
        allowed_addresses.find(urlsplit("https://feed.example/"), inside=())


@pytest.mark.parametrize(
    ("address", "named"),
    [("fd12::5", "fd12::/16"), ("10.1.2.3", "10.0.0.0/8"), ("2001:db8::5", "2001:db8::/32")],
)
def test_what_the_installation_names_is_asked_and_nothing_beside_it(address, named, monkeypatch):
    inside = [ipaddress.ip_network(named)]
    found_at(monkeypatch, address)
    assert allowed_addresses.find(urlsplit("http://feed.example/"), inside=inside) == [address]
    found_at(monkeypatch, address, "fe80::1")
    with pytest.raises(SnapshotRefused, match="private network"):
        allowed_addresses.find(urlsplit("https://feed.example/"), inside=inside)
