"""What the environment says is read strictly: a wrong value stops the start with one clear line."""

import os
import secrets
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
KEY = secrets.token_urlsafe(64)
GOOD = {
    "HOURMARK_ENV": "production",
    "HOURMARK_SECRET_KEY": KEY,
    "HOURMARK_ALLOWED_HOSTS": "hourmark.example",
    "HOURMARK_TRUSTED_ORIGINS": "https://hourmark.example",
    "HOURMARK_SITE_URL": "https://hourmark.example",
}
STARTS = {
    "manage.py": ["manage.py", "check"],
    "a web server": ["-c", "import config.wsgi"],
}
WRONG = [
    ("no key", {"HOURMARK_SECRET_KEY": ""}, "HOURMARK_SECRET_KEY is not set"),
    ("a short key", {"HOURMARK_SECRET_KEY": "short" * 4}, "HOURMARK_SECRET_KEY is too short"),
    ("no hosts", {"HOURMARK_ALLOWED_HOSTS": ""}, "HOURMARK_ALLOWED_HOSTS is not set"),
    ("an unknown mode", {"HOURMARK_ENV": "prod"}, "HOURMARK_ENV is 'prod'"),
    ("an unreadable database", {"DATABASE_URL": "postgres://host:port/name"}, "DATABASE_URL can't be read"),
    ("no database at all", {"DATABASE_URL": "nonsense"}, "DATABASE_URL"),
    ("a key that is none", {"HOURMARK_CREDENTIAL_KEYS": "short"}, "HOURMARK_CREDENTIAL_KEYS holds"),
    ("a network that is none", {"HOURMARK_TELEMATICS_INSIDE": "10.0.0.1/8"}, "HOURMARK_TELEMATICS_INSIDE"),
]


def run(folder, command, **environment):
    """Run Python with this environment and no other setting of ours."""
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    return subprocess.run(
        [sys.executable, *command],
        cwd=ROOT,
        env={**kept, "HOURMARK_DATA": str(folder), **environment},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


@pytest.mark.parametrize("start", STARTS.values(), ids=STARTS)
@pytest.mark.parametrize(("wrong", "said"), [case[1:] for case in WRONG], ids=[case[0] for case in WRONG])
def test_a_wrong_value_stops_the_start(tmp_path, start, wrong, said):
    done = run(tmp_path, start, **{**GOOD, **wrong})
    assert done.returncode != 0
    lines = (done.stderr + done.stdout).strip().splitlines()
    assert len(lines) == 1, done.stderr
    assert said in lines[0]
    assert KEY not in lines[0]


def test_the_check_for_deployment_is_clean(tmp_path):
    done = run(tmp_path, ["manage.py", "check", "--deploy", "--fail-level", "WARNING"], **GOOD)
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout


def test_without_any_variable_it_is_a_local_demo_that_keeps_its_key(tmp_path):
    said = "from django.conf import settings as s; print(s.SECRET_KEY, s.ALLOWED_HOSTS[0], s.DEBUG)"
    first, second = (run(tmp_path, ["manage.py", "shell", "--no-imports", "-c", said]) for _ in range(2))
    assert first.returncode == 0, first.stderr
    key, host, debug = first.stdout.split()
    assert first.stdout == second.stdout
    assert (len(key) >= 50, host, debug) == (True, "127.0.0.1", "False")
    assert oct((tmp_path / "demo-secret-key").stat().st_mode)[-3:] == "600"


def test_sqlite_runs_in_wal_mode_with_foreign_keys(tmp_path):
    """PRAGMA journal_mode and foreign_keys: sqlite.org/pragma.html."""
    asked = (
        "from django.db import connection as c; k = c.cursor(); "
        "print(*(k.execute('PRAGMA ' + p).fetchone()[0] for p in ('journal_mode', 'foreign_keys')))"
    )
    done = run(tmp_path, ["manage.py", "shell", "--no-imports", "-c", asked])
    assert done.stdout.split() == ["wal", "1"], done.stderr


def test_production_keeps_to_tls(tmp_path):
    said = (
        "from django.conf import settings as s; print(s.SECURE_SSL_REDIRECT, s.SESSION_COOKIE_SECURE, "
        "s.CSRF_COOKIE_SECURE, s.SECURE_HSTS_SECONDS > 0, s.DEBUG)"
    )
    done = run(tmp_path, ["manage.py", "shell", "--no-imports", "-c", said], **GOOD)
    assert done.stdout.split() == ["True", "True", "True", "True", "False"], done.stderr


def test_the_demonstration_does_not_run_in_production(tmp_path):
    done = run(tmp_path, ["manage.py", "demo", "--build-only"], **GOOD)
    assert done.returncode != 0
    assert done.stderr.strip().splitlines() == [
        "CommandError: The demonstration does not run with HOURMARK_ENV=production."
    ]
