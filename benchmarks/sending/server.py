"""The server as docker-compose.yml runs it, and what it used."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
WORKERS = 2


@contextmanager
def served(environment: dict[str, str]) -> Iterator[tuple[int, "subprocess.Popen[bytes]"]]:
    """Gunicorn as docker-compose.yml runs it, with 2 workers; yields its port and its process."""
    with closing(socket.create_server(("127.0.0.1", 0))) as free:
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "gunicorn", "config.wsgi:application", f"--bind=127.0.0.1:{port}"]
    server = subprocess.Popen(
        [*command, f"--workers={WORKERS}", "--threads=4", "--worker-tmp-dir=/dev/shm", "--log-level=warning"],
        cwd=ROOT,
        env=environment,
        start_new_session=True,
    )
    try:
        for _ in range(600):
            with closing(socket.socket()) as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.05)
        yield port, server
    finally:
        os.killpg(server.pid, signal.SIGTERM)
        server.wait()


def workers_of(server: "subprocess.Popen[bytes]") -> list[int]:
    """The process ids of the server's workers."""
    return [int(pid) for pid in Path(f"/proc/{server.pid}/task/{server.pid}/children").read_text().split()]


def peak_megabytes(pid: int) -> float:
    """The most memory a process has held so far, shared pages included."""
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1024


def cpu_seconds(pid: int) -> float:
    """Processor time a process has used."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
