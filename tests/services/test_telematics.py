"""Telematics with real processes: beat asks, a worker reads; and a large fleet, measured."""

import json
from datetime import UTC, datetime, timedelta

import pytest

from fixtures.telematics.server import Provider, Unit
from tests.services.installation import wait_for

pytestmark = pytest.mark.service

MACHINES, PER_PAGE = 10_000, 100
MOST = 300 * 1024  # kB at its peak
SECONDS = 240  # as long as a whole source may take, less a margin

SEED = """
from datetime import timedelta
from django.utils import timezone
from django_scopes import scope
from fleet.models import *
from fleet.telematics import credentials
farm = Organisation.objects.create(name="Alder Farm", slug="alder-farm", digest_hour=0)
with scope(organisation=farm):
    yard = Yard.objects.create(organisation=farm, name="Home")
    kind = MachineType.objects.create(organisation=farm, maker="Haldane", model="HX 25", category="tractor")
    since = timezone.now() - timedelta(days=900)
    machines = Machine.objects.bulk_create(
        Machine(organisation=farm, type=kind, yard=yard, tag=f"M-{{n}}", serial=f"S-{{n}}",
                in_service_on=since.date())
        for n in range({machines}))
    MeterSegment.objects.bulk_create(
        MeterSegment(organisation=farm, machine=machine, started_at=since) for machine in machines)
    TelematicsSource.objects.create(
        organisation=farm, name="Feed", url="{url}", every_minutes=5,
        login="basic", username="alder", secret=credentials.lock("gate"))
"""

FOUND = """
from django_scopes import scopes_disabled
from fleet.models import *
with scopes_disabled():
    answer = {
        "readings": sorted([reading.machine.tag, str(reading.shows), reading.state]
                           for reading in Reading.objects.select_related("machine")[:10]),
        "count": Reading.objects.filter(state="counted").count(),
        "source": [TelematicsSource.objects.get().state, TelematicsSource.objects.get().outcome],
    }
"""

MEASURED = """
import io, time
from django.core.management import call_command
began = time.monotonic()
call_command("read_telematics", stdout=io.StringIO())
took = time.monotonic() - began
with open("/proc/self/status") as status:
    peak = next(int(line.split()[1]) for line in status if line.startswith("VmHWM"))
answer = {"kB": peak, "seconds": took}
"""


def units(number: int) -> list[Unit]:
    """So many machines, each with hours, place and fuel of an hour ago."""
    at = (datetime.now(UTC) - timedelta(hours=1)).isoformat(timespec="seconds")
    return [
        Unit(
            model="HX 25",
            serial=f"S-{n}",
            equipment_id=f"provider {n}",
            hours=f"{1000 + n / 4:.2f}",
            hours_at=at,
            latitude=f"{40 + n / 10_000:.6f}",
            longitude="-93.744200",
            location_at=at,
            fuel_percent=str(n % 100),
            fuel_at=at,
        )
        for n in range(number)
    ]


def test_beat_asks_a_worker_reads_and_what_fails_is_seen(installation):
    told = units(2)
    with Provider(lambda: told, login=("alder", "gate")) as provider:
        installation.python(SEED.format(machines=2, url=provider.address))
        installation.start("worker", "worker", "--pool", "solo", "--loglevel", "INFO")
        installation.start("beat", "beat", "--loglevel", "INFO")

        def state() -> list[str] | None:
            found = installation.python(FOUND)
            return found if found["source"][0] != "not read yet" else None

        found = wait_for(state, seconds=60, otherwise=installation.said)
    assert found["source"] == ["good", "1 page, 2 units; hours: 2 counted."]
    assert found["readings"] == [["M-0", "1000.00", "counted"], ["M-1", "1000.25", "counted"]]
    assert len(provider.seen) == 1  # it isn't due again for minutes, however often beat looks


def test_ten_thousand_machines_over_a_hundred_pages_fit_in_300_mb(installation, capsys):
    told = units(MACHINES)
    with Provider(lambda: told, login=("alder", "gate"), per_page=PER_PAGE) as provider:
        installation.python(SEED.format(machines=MACHINES, url=provider.address))
        first = installation.python(MEASURED)
        assert len(provider.seen) == MACHINES // PER_PAGE
        again = installation.python(MEASURED)
    found = installation.python(FOUND)
    with capsys.disabled():
        print(json.dumps({"first": first, "again": again}))  # noqa: T201 (a measurement is read)
    assert found["count"] == MACHINES
    assert found["source"] == ["good", "100 pages, 10,000 units; hours: 10,000 counted."]
    for measured in (first, again):
        assert measured["kB"] < MOST
        assert measured["seconds"] < SECONDS
