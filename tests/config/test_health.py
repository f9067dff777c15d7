"""The health pages: whether this web server answers, and whether every part of the installation lives."""

import json
import os
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from fleet import signs_of_life
from fleet.models import SignOfLife

ROOT = Path(__file__).resolve().parents[2]
ASK = """
import json
from django.test import Client
client = Client(raise_request_exception=False)
answers = [client.get(page, headers={"host": "127.0.0.1"}) for page in ("/health", "/health/web")]
print(json.dumps([[answer.status_code, answer.json()] for answer in answers]))
"""
NO_DATABASE = [503, {"status": "unhealthy", "gone": ["database"]}]


@pytest.fixture
def long_up(monkeypatch, settings):
    """A web server that has listened for a day, and by the usual limit."""
    settings.SILENCE_SECONDS = 210.0
    monkeypatch.setattr(signs_of_life, "LISTENING_SINCE", signs_of_life.LISTENING_SINCE - 86_400)


def signed(**seconds_ago):
    now = timezone.now()
    for part, ago in seconds_ago.items():
        signs_of_life.sign(part, at=now - timedelta(seconds=ago))


@pytest.mark.django_db
def test_all_parts_live(client, long_up):
    signed(beat=12.4, worker=3, work=20)
    answer = client.get("/health")
    assert answer.status_code == 200
    body = answer.json()
    seconds = body.pop("seconds")
    assert body == {"status": "ok", "gone": []}
    assert 12 <= seconds["beat"] < 60
    assert 3 <= seconds["worker"] < seconds["beat"] < seconds["work"]
    assert "no-store" in answer["Cache-Control"]


@pytest.mark.django_db
@pytest.mark.parametrize("gone", ["beat", "worker"])
def test_a_part_that_is_gone_is_named(client, long_up, gone, settings):
    silent = settings.SILENCE_SECONDS + 1
    signed(**{"beat": 1, "worker": 1, "work": silent, gone: silent})
    answer = client.get("/health")
    assert (answer.status_code, answer.json()["status"]) == (503, "unhealthy")
    assert answer.json()["gone"] == [gone]


@pytest.mark.django_db
def test_nothing_ever_signed(client, long_up):
    answer = client.get("/health")
    assert answer.status_code == 503
    assert answer.json()["gone"] == ["beat", "worker"]  # that nothing is done follows from it
    assert answer.json()["seconds"] == {"beat": None, "worker": None, "work": None}


@pytest.mark.django_db
def test_a_web_server_just_started_accuses_nobody(client, settings, monkeypatch):
    monkeypatch.setattr(signs_of_life, "LISTENING_SINCE", signs_of_life.time.monotonic())
    signed(beat=86_400)
    answer = client.get("/health")
    assert (answer.status_code, answer.json()["status"]) == (200, "starting")


@pytest.mark.django_db
def test_the_web_servers_own_check_does_not_ask_for_the_others(client, long_up):
    assert client.get("/health").status_code == 503
    answer = client.get("/health/web")
    assert (answer.status_code, answer.json()) == (200, {"status": "ok"})


@pytest.mark.django_db
@pytest.mark.security
@pytest.mark.parametrize("page", ["/health", "/health/web"])
def test_a_stranger_costs_one_query_and_learns_nothing_of_anybody(page):
    client = Client(headers={"cookie": "sessionid=" + "x" * 32, "authorization": "Bearer " + "x" * 43})
    with CaptureQueriesContext(connection) as asked:
        answer = client.get(page + "?organisation=1")
    assert len(asked) == 1
    assert set(answer.json()) <= {"status", "gone", "seconds"}
    assert "Set-Cookie" not in answer
    assert "Vary" not in answer or "Cookie" not in answer["Vary"]
    assert client.post(page).status_code in (200, 403, 405, 503)
    assert not SignOfLife.objects.exists()  # looking is no sign


@pytest.mark.parametrize(
    "database",
    ["postgres://nobody@127.0.0.1:9/nowhere?connect_timeout=2", "sqlite:////nowhere/at/all.sqlite3", ""],
    ids=["no server", "no file", "no tables"],
)
def test_it_fails_without_its_database(tmp_path, database):
    """Against a server that isn't there and a file that can't be opened, in a process of its own."""
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    done = subprocess.run(
        [sys.executable, "manage.py", "shell", "--no-imports", "-c", ASK],
        cwd=ROOT,
        env={**kept, "HOURMARK_DATA": str(tmp_path), "DATABASE_URL": database},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    health, web = json.loads(done.stdout.strip().splitlines()[-1])
    assert health == NO_DATABASE, done.stderr
    # a file without tables answers; the web server doesn't start on it (tests/config/test_starting.py)
    assert web == (NO_DATABASE if database else [200, {"status": "ok"}])
