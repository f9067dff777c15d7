"""The commands of config/INSTALL.md as they stand there, and a folder in which they are typed."""

import os
import pty
import re
import select
import shutil
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PAPER = ROOT / "config" / "INSTALL.md"
NOT_OF_THE_CHECKOUT = (
    ".git",
    ".venv",
    "var",
    "*.env",
    "__pycache__",
    ".*_cache",
    ".hypothesis",
    ".coverage*",
)


def blocks(kind: str) -> list[str]:
    """Return the blocks of commands of this kind, in the order of the paper."""
    return re.findall(rf"^```{kind}\n(.*?)^```$", PAPER.read_text(), re.DOTALL | re.MULTILINE)


def block(beginning: str) -> str:
    """Return the only block of commands that holds this."""
    (found,) = (each for each in blocks("sh") if beginning in each)
    return found


class Terminal:
    """A copy of this checkout, as somebody fetched it, in which the paper's commands are typed.

    `values` stand in the place of the paper's own values of these settings; a name the paper doesn't have
    fails. A value of None leaves the line out. `more` are settings of which the paper says nothing.
    """

    def __init__(self, folder: Path, values: Mapping[str, str | None], more: Mapping[str, str]) -> None:
        self.folder = folder / "hourmark"
        shutil.copytree(ROOT, self.folder, ignore=shutil.ignore_patterns(*NOT_OF_THE_CHECKOUT))
        python = folder / "bin" / "python3"
        python.parent.mkdir()
        python.symlink_to(sys.base_prefix + "/bin/python3")
        kept = {name: os.environ[name] for name in os.environ if name.startswith(("PIP_", "LANG", "SSL_"))}
        self.environment = {**kept, **more, "HOME": str(folder), "PATH": f"{python.parent}:/usr/bin:/bin"}
        self._values = values

    def type(self, commands: str, *, settings: bool = True) -> str:
        """Run a block of the paper; return what it wrote. Fails when one of its commands fails."""
        for name, value in self._values.items() if "hourmark.env <<" in commands else ():
            commands, found = re.subn(
                rf"^{name}=.*\n", f"{name}={value}\n" if value else "", commands, flags=re.M
            )
            assert found == 1, f"the paper has {found} lines of {name}"
        done = subprocess.run(
            ["/bin/bash", "-e", "-c", self._with_settings(commands) if settings else commands],
            cwd=self.folder,
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=600,
            check=False,
        )
        assert done.returncode == 0, f"{commands}\n{done.stdout[-3000:]}\n{done.stderr[-3000:]}"
        return done.stdout

    def start(self, command: str, name: str) -> "subprocess.Popen[bytes]":
        """Start one of the paper's processes; what it writes goes into a file of this name."""
        with (self.folder / f"{name}.log").open("ab") as log:
            return subprocess.Popen(
                ["/bin/bash", "-c", self._with_settings(f"exec {command}")],
                cwd=self.folder,
                env=self.environment,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )

    def answer(self, command: str, answers: Sequence[tuple[str, str]]) -> str:
        """Run a command that asks on the terminal, and answer each question; return what was to be seen."""
        child, terminal = pty.fork()
        if child == 0:
            os.chdir(self.folder)
            os.execve("/bin/bash", ["bash", "-e", "-c", self._with_settings(command)], self.environment)
        seen = ""
        end = time.monotonic() + 60
        for question, answer in [*answers, ("\x04", "")]:  # the last is never asked: read until it ends
            said = ""
            while question not in said and time.monotonic() < end:
                if select.select([terminal], [], [], 1)[0]:
                    try:
                        more = os.read(terminal, 4096).decode()
                    except OSError:  # EIO: the other side is closed
                        break
                    said += more
            seen += said
            if answer:
                assert question in said, f"it never asked {question!r}:\n{seen}"
                os.write(terminal, f"{answer}\n".encode())
        os.close(terminal)
        code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        assert code == 0, seen
        return seen

    def _with_settings(self, commands: str) -> str:
        return block("set -a") + commands
