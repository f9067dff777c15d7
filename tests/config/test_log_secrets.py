"""The keys of one-time links stand in no log: not gunicorn's, not ours."""

import logging
import os
import socket
import subprocess
import sys
import time
from pathlib import Path
from urllib.error import HTTPError, URLError
from urllib.request import Request, urlopen

import pytest

from config.log_secrets import WithoutSecrets, without_secrets

pytestmark = pytest.mark.security

ROOT = Path(__file__).resolve().parents[2]
KEY = "c8x1ab-0123456789abcdef"


@pytest.mark.parametrize(
    ("said", "logged"),
    [
        (f'"GET /welcome/MQ/{KEY}/ HTTP/1.1" 302', '"GET /welcome/... HTTP/1.1" 302'),
        (f"Not Found: /join/{KEY}/", "Not Found: /join/..."),
        (
            f'200 "https://farm.example/join/{KEY}/?x=1" "Mozilla"',
            '200 "https://farm.example/join/...?x=1" "Mozilla"',
        ),
        ("GET /welcome/ and /join/ and /machines/4/", "GET /welcome/ and /join/ and /machines/4/"),
    ],
)
def test_the_key_is_struck_out_and_nothing_else(said, logged):
    assert without_secrets(said) == logged


def test_also_where_it_is_an_argument_of_the_line():
    record = logging.LogRecord("any", logging.INFO, "x.py", 1, "Gone: %s", (f"/join/{KEY}/",), None)
    assert WithoutSecrets().filter(record)
    assert record.getMessage() == "Gone: /join/..."


def test_our_own_handlers_strike_it_out(settings):
    named = settings.LOGGING["handlers"].values()
    assert named
    assert all("without secrets" in handler["filters"] for handler in named)


def test_gunicorn_as_it_is_started_logs_no_key(tmp_path):
    """One that takes its settings from the folder, with the log of requests on, as in docker-compose.yml."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    log = tmp_path / "log"
    environment = {**os.environ, "HOURMARK_ENV": "demo", "HOURMARK_DATA": str(tmp_path), "DATABASE_URL": ""}
    manage = [sys.executable, "manage.py", "migrate", "--verbosity=0"]
    subprocess.run(manage, cwd=ROOT, env=environment, check=True)
    with log.open("wb") as out:
        server = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "gunicorn",
                "config.wsgi",
                f"--bind=127.0.0.1:{port}",
                "--access-logfile=-",
            ],
            cwd=ROOT,
            env=environment,
            stdout=out,
            stderr=out,
        )
    try:
        for path in (f"/welcome/x/{KEY}/", f"/join/{KEY}/"):
            request = Request(f"http://127.0.0.1:{port}{path}", headers={"Referer": f"http://x/join/{KEY}/"})
            assert _status(request) == 410
    finally:
        server.terminate()
        server.wait(timeout=30)
    logged = log.read_text()
    assert '"GET /welcome/... HTTP/1.1" 410' in logged
    assert '"GET /join/... HTTP/1.1" 410' in logged
    assert KEY not in logged


def _status(request):
    deadline = time.monotonic() + 60
    while True:
        try:
            with urlopen(request, timeout=20) as answer:
                return answer.status
        except HTTPError as error:
            error.close()
            return error.code
        except URLError:
            if time.monotonic() > deadline:
                raise
            time.sleep(0.2)
