"""The demonstration, built into a folder of its own and served by a process of its own."""

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

ROOT = Path(__file__).resolve().parents[2]
PATIENCE = 60.0  # seconds; a busy machine is slow to start a server


@contextmanager
def demonstration(folder: Path) -> Iterator[str]:
    """Build the demonstration in the folder, serve it, and yield its address without a final slash."""
    port = _free_port()
    environment = {
        **os.environ,
        "HOURMARK_ENV": "demo",
        "HOURMARK_DATA": str(folder),
        "HOURMARK_SITE_URL": f"http://127.0.0.1:{port}",
        "DATABASE_URL": "",
        "REDIS_URL": "",
    }
    subprocess.run(
        [sys.executable, "manage.py", "demo", "--build-only"],
        cwd=ROOT,
        env=environment,
        check=True,
        stdout=subprocess.DEVNULL,
    )
    with (folder / "server.log").open("ab") as log:
        server = subprocess.Popen(
            [sys.executable, "-m", "gunicorn", "config.wsgi", "-b", f"127.0.0.1:{port}", "--threads", "4"],
            cwd=ROOT,
            env=environment,
            stdout=log,
            stderr=log,
        )
    address = f"http://127.0.0.1:{port}"
    try:
        _wait_for(f"{address}/health/web", server)
        yield address
    finally:
        server.terminate()
        server.wait(timeout=PATIENCE)


def _wait_for(address: str, server: "subprocess.Popen[bytes]") -> None:
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline:
        if server.poll() is not None:
            raise RuntimeError(f"The server ended with code {server.returncode} before it answered.")
        try:
            with urlopen(address, timeout=5):
                return
        except (URLError, ConnectionError, TimeoutError):
            time.sleep(0.2)
    raise RuntimeError(f"The server did not answer within {PATIENCE:.0f} s.")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
