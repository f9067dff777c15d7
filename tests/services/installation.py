"""A whole installation for one test: own database, queue and mail server, worker and beat as processes."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

import psycopg
from aiosmtpd.controller import Controller

ROOT = Path(__file__).resolve().parents[2]


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
        self.database = _own_database(os.environ.get("DATABASE_URL", ""))
        self.environment = {
            **os.environ,
            "HOURMARK_DATA": str(folder),
            "DATABASE_URL": self.database,
            "REDIS_URL": redis_url,
            "EMAIL_URL": f"smtp://127.0.0.1:{self.mail.port}",
            "HOURMARK_SWEEP_SECONDS": "1",
            "HOURMARK_DIGEST_SECONDS": "1",
        }
        self._manage("migrate", "--verbosity", "0")

    def start(self, name: str, *command: str) -> None:
        """Start a Celery process; its output goes to a file of its name in the folder."""
        with (self.folder / f"{name}.log").open("ab") as log:
            self.processes[name] = subprocess.Popen(
                [sys.executable, "-m", "celery", "-A", "config", *command],
                cwd=ROOT,
                env=self.environment,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )

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
            _drop(self.database)

    def said(self) -> str:
        """What the processes wrote, for the message of a failed test."""
        return "\n".join(f"--- {log.name}\n{log.read_text()[-3000:]}" for log in self.folder.glob("*.log"))

    def _manage(self, *arguments: str, **environment: str) -> str:
        done = subprocess.run(
            [sys.executable, "manage.py", *arguments],
            cwd=ROOT,
            env={**self.environment, **environment},
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


def free_port() -> int:
    """Return a port nobody listens on."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        return int(free.getsockname()[1])


def _own_database(url: str) -> str:
    """Make an empty PostgreSQL database beside the one of the URL; without a URL, SQLite serves."""
    if not url:
        return ""
    name = f"hourmark_services_{os.getpid()}"
    with psycopg.connect(url.replace("psql://", "postgres://"), autocommit=True) as connection:
        connection.execute(f'DROP DATABASE IF EXISTS "{name}"')
        connection.execute(f'CREATE DATABASE "{name}"')
    return urlunsplit(urlsplit(url)._replace(path=f"/{name}"))


def _drop(url: str) -> None:
    administrator = urlunsplit(urlsplit(url)._replace(path="/postgres"))
    with psycopg.connect(administrator, autocommit=True) as connection:
        connection.execute(f'DROP DATABASE IF EXISTS "{urlsplit(url).path[1:]}" WITH (FORCE)')
