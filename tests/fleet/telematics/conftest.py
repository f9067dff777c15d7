"""A farm, and a server for the standard on this machine that it may ask."""

import ipaddress
from datetime import UTC, datetime

import pytest

from fixtures.telematics.server import Provider, Unit
from tests.factories import TelematicsSourceFactory

NOW = datetime(2026, 3, 2, 6, 0, 30, tzinfo=UTC)


@pytest.fixture(autouse=True)
def may_ask_this_machine(settings):
    """Only 127.0.0.1: the rest of 127.0.0.0/8 stands for a private network."""
    settings.TELEMATICS_INSIDE = [ipaddress.ip_network("127.0.0.1/32")]


@pytest.fixture
def machine(in_farm):
    """T-07, in service since 1 January 2026."""
    return in_farm.machine(tag="T-07", serial="K-1")


def unit(**facts):
    """A unit that is T-07, with hours of this morning."""
    return Unit(**({"serial": "K-1", "hours": "104.5", "hours_at": "2026-03-02T05:41:00Z"} | facts))


@pytest.fixture
def provider():
    """A server that tells of one unit; what it tells of can be changed through `told`."""
    told = [unit()]
    with Provider(lambda: told) as server:
        server.told = told
        yield server


@pytest.fixture
def source(in_farm, provider):
    """A source that asks that server, due now."""
    return TelematicsSourceFactory(
        organisation=in_farm.organisation, name="Feed", url=provider.address, next_try_at=NOW
    )
