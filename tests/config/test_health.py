"""The health page says whether the database answers."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.test import Client

ROOT = Path(__file__).resolve().parents[2]
ASK = """
import json
from django.test import Client
answer = Client(raise_request_exception=False).get("/health", headers={"host": "127.0.0.1"})
print(json.dumps(answer.status_code))
"""


@pytest.mark.django_db
def test_it_answers_to_everybody():
    answer = Client().get("/health")
    assert (answer.status_code, answer.json()) == (200, {"status": "ok"})


@pytest.mark.parametrize(
    "database",
    ["postgres://nobody@127.0.0.1:9/nowhere?connect_timeout=2", "sqlite:////nowhere/at/all.sqlite3"],
    ids=["no server", "no file"],
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
    assert json.loads(done.stdout.strip().splitlines()[-1]) in (500, 503), done.stderr
