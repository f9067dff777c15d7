"""A worker or a beat that is killed is missed within the stated time, and named."""

import json
import time
from urllib.error import HTTPError
from urllib.request import urlopen

import pytest

from tests.services.installation import wait_for

pytestmark = pytest.mark.service

SILENCE = 15.0  # seconds; signs come every second
STARTS = {
    "worker": ("worker", "--pool", "solo", "--loglevel", "INFO"),
    "beat": ("beat", "--loglevel", "INFO"),
}


def health(address):
    try:
        with urlopen(f"{address}/health", timeout=10) as answer:
            return answer.status, json.load(answer)
    except HTTPError as refusal:
        return refusal.code, json.load(refusal)


@pytest.mark.parametrize(("gone", "queue"), [("worker", "Redis"), ("beat", "Redis"), ("worker", "files")])
def test_who_is_killed_is_missed(installation, gone, queue):
    installation.environment["HOURMARK_SILENCE_SECONDS"] = str(SILENCE)
    if queue == "files":
        installation.environment["REDIS_URL"] = ""
    address = installation.serve()
    assert health(address)[0] == 200  # it is too early to say
    for name, command in STARTS.items():
        installation.start(name, *command)
    wait_for(lambda: health(address)[1]["status"] == "ok", seconds=60, otherwise=installation.said)
    time.sleep(SILENCE)  # so long the web server itself must have been up to miss anybody
    wait_for(lambda: health(address)[1]["status"] == "ok", seconds=60, otherwise=installation.said)

    installation.kill(gone)
    _, body = wait_for(
        lambda: found if (found := health(address))[0] == 503 else None,
        seconds=SILENCE + 15,
        otherwise=installation.said,
    )
    assert body["gone"] == [gone]
    assert body["seconds"][gone] >= SILENCE - 1
    with urlopen(f"{address}/health/web", timeout=10) as answer:
        assert answer.status == 200

    installation.start(gone, *STARTS[gone])
    wait_for(lambda: health(address)[1]["status"] == "ok", seconds=60, otherwise=installation.said)


def test_without_redis_all_start_and_go_on_when_it_is_there(installation, broker):
    broker.kill()
    installation.environment["HOURMARK_SILENCE_SECONDS"] = "3"
    address = installation.serve()
    for name, command in STARTS.items():
        installation.start(name, *command)
    _, body = wait_for(  # of one process of the web server: another may not have been up for so long
        lambda: found if (found := health(address))[0] == 503 else None,
        seconds=60,
        otherwise=installation.said,
    )
    assert body["gone"] == ["beat", "worker"]  # they run, but nothing can be handed over
    assert all(process.poll() is None for process in installation.processes.values())

    broker.start()
    wait_for(lambda: health(address)[1]["status"] == "ok", seconds=120, otherwise=installation.said)
