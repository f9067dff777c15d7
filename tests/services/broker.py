"""A Redis server of one test's own: nothing of another test is on it, and it can go and come back."""

import subprocess
from pathlib import Path

from tests.services.installation import free_port


class Broker:
    """Starts with nothing on it; `url` stays the same over a restart."""

    def __init__(self, folder: Path) -> None:
        self.port, self.folder = free_port(), folder
        self.url = f"redis://127.0.0.1:{self.port}/0"
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        command = ["redis-server", "--port", str(self.port), "--bind", "127.0.0.1", "--save", ""]
        self.process = subprocess.Popen(
            [*command, "--dir", str(self.folder)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )

    def kill(self) -> None:
        """End it at once; what was on it is gone."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()
