"""A whole installation for one test: own database, queue and mail server, worker and beat as processes."""

import atexit
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any
from urllib.error import URLError
from urllib.parse import urlsplit, urlunsplit
from urllib.request import urlopen

import psycopg
from aiosmtpd.controller import Controller

ROOT = Path(__file__).resolve().parents[2]
WAITING_FOR_A_LOCK = """
SELECT pid FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'
"""


class Letters:
    """An SMTP handler that keeps what it gets."""

    def __init__(self) -> None:
        self.kept: list[str] = []

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        self.kept.append(envelope.content.decode())
        return "250 OK"


class Installation:
    """Starts and stops everything; `python` runs a snippet in the installation."""

    def __init__(self, folder: Path, redis_url: str) -> None:
        self.letters = Letters()
        self.mail = Controller(self.letters, hostname="127.0.0.1", port=free_port())
        self.mail.start()
        self.processes: dict[str, subprocess.Popen[bytes]] = {}
        self.folder = folder
        self.database = copy_of_migrated(os.environ.get("DATABASE_URL", ""), folder)
        self.environment = {
            **os.environ,
            "HOURMARK_DATA": str(folder),
            "DATABASE_URL": self.database,
            "REDIS_URL": redis_url,
            "EMAIL_URL": f"smtp://127.0.0.1:{self.mail.port}",
            "HOURMARK_SWEEP_SECONDS": "1",
            "HOURMARK_DIGEST_SECONDS": "1",
        }

    def start(self, name: str, *command: str) -> None:
        """Start a Celery process; its output goes to a file of its name in the folder."""
        self.run(name, sys.executable, "-m", "celery", "-A", "config", *command)

    def serve(self, *, largest_file: int | None = None, threads: int = 1) -> str:
        """Start the web server with two workers of so many threads; return its address.

        largest_file: kB; what a full disk does to a writer, the kernel does beyond that size.
        """
        port = free_port()
        size = ("--workers", "2", "--threads", str(threads))
        server = (sys.executable, "-m", "gunicorn", "config.wsgi", *size, "-b", f"127.0.0.1:{port}")
        # compiled modules are larger, too, and would be left cut off for whoever starts next
        limit = f"ulimit -f {largest_file}; export PYTHONDONTWRITEBYTECODE=1;" if largest_file else ""
        self.run("web", "bash", "-c", f'{limit} exec "$@"', "web", *server)
        address = f"http://127.0.0.1:{port}"
        wait_for(lambda: _answers(f"{address}/health/web"), seconds=60, otherwise=self.said)
        return address

    def run(self, name: str, *command: str) -> None:
        """Start a process in a group of its own; its output goes to a file of its name in the folder."""
        with (self.folder / f"{name}.log").open("ab") as log:
            self.processes[name] = subprocess.Popen(
                command,
                cwd=ROOT,
                env=self.environment,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )

    def cut(self) -> int:
        """Cut every connection to the database, as its restart would; return how many there were."""
        with psycopg.connect(_beside(self.database), autocommit=True) as connection:
            cut = connection.execute(
                "SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity"
                " WHERE datname = %s AND pid <> pg_backend_pid()",
                [urlsplit(self.database).path[1:]],
            )
            row = cut.fetchone()
            assert row is not None
            return int(row[0])

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        """Ask the database itself, past all of our own code."""
        with psycopg.connect(self.database, autocommit=True) as connection:
            return connection.execute(query).fetchall()

    @contextmanager
    def holding(self, query: str) -> Iterator[None]:
        """Keep what the query locks from everyone else: who comes to it waits there, in mid-transaction."""
        with psycopg.connect(self.database) as connection:
            connection.execute(query)
            yield

    def somebody_waits(self) -> bool:
        """Whether a process has come to what is held from it."""
        return bool(self.rows(WAITING_FOR_A_LOCK))

    def kill(self, name: str) -> None:
        """End a process at once, as a power cut would."""
        process = self.processes.pop(name)
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()

    def python(self, snippet: str, **environment: str) -> Any:
        """Run code with Django set up; it assigns `answer`, which comes back through JSON."""
        code = f"answer = None\n{snippet}\nimport json\nprint('ANSWER' + json.dumps(answer, default=str))"
        out = self._manage("shell", "--no-imports", "-c", code, **environment)
        return json.loads(out.split("ANSWER")[1])

    def stop(self) -> None:
        """End everything and take the database away."""
        for name in list(self.processes):
            self.kill(name)
        self.mail.stop()
        if self.database:
            drop(self.database)

    def said(self) -> str:
        """What the processes wrote, for the message of a failed test."""
        return "\n".join(f"--- {log.name}\n{log.read_text()[-3000:]}" for log in self.folder.glob("*.log"))

    def _manage(self, *arguments: str, **environment: str) -> str:
        return manage(*arguments, environment={**self.environment, **environment})


def manage(*arguments: str, environment: Mapping[str, str]) -> str:
    """Run one of Django's commands in this environment; return what it printed."""
    done = subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def wait_for(truth: Callable[[], Any], *, seconds: float, otherwise: Callable[[], str]) -> Any:
    """Ask until the answer is true; fail with a message after so many seconds."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if answer := truth():
            return answer
        time.sleep(0.3)
    raise AssertionError(otherwise())


def _answers(address: str) -> bool:
    try:
        with urlopen(address, timeout=5) as answer:
            return bool(answer.status == 200)
    except (URLError, OSError):
        return False


def free_port() -> int:
    """Return a port nobody listens on."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        return int(free.getsockname()[1])


def copy_of_migrated(url: str, folder: Path) -> str:
    """Make a database with all tables, beside that of the URL or, without one, SQLite's in the folder."""
    if not url:
        shutil.copy(_migrated_file(), folder)
        return ""
    return own_database(url, like=_migrated_database(url))


@cache
def _migrated_database(url: str) -> str:
    """Migrate a database once for this process, which takes half a minute; a copy takes a blink."""
    migrated = own_database(url, name=f"hourmark_migrated_{os.getpid()}")
    atexit.register(drop, migrated)
    manage("migrate", "--verbosity", "0", environment={**os.environ, "DATABASE_URL": migrated})
    return urlsplit(migrated).path[1:]


@cache
def _migrated_file() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="hourmark-migrated-"))
    atexit.register(shutil.rmtree, folder)
    environment = {**os.environ, "HOURMARK_DATA": str(folder), "DATABASE_URL": ""}
    manage("migrate", "--verbosity", "0", environment=environment)
    return folder / "hourmark.sqlite3"


def own_database(url: str, *, name: str = "", like: str = "template1") -> str:
    """Make a PostgreSQL database beside that of the URL, like another one; return its URL, or "" for ""."""
    if not url:
        return ""
    name = name or f"hourmark_services_{os.getpid()}"
    with psycopg.connect(url.replace("psql://", "postgres://"), autocommit=True) as connection:
        connection.execute(f'DROP DATABASE IF EXISTS "{name}"')
        connection.execute(f'CREATE DATABASE "{name}" TEMPLATE "{like}"')
    return urlunsplit(urlsplit(url)._replace(path=f"/{name}"))


def _beside(url: str) -> str:
    return urlunsplit(urlsplit(url)._replace(path="/postgres"))


def drop(url: str) -> None:
    with psycopg.connect(_beside(url), autocommit=True) as connection:
        connection.execute(f'DROP DATABASE IF EXISTS "{urlsplit(url).path[1:]}" WITH (FORCE)')
