"""Reads a file in a process of its own; says what came of it, and the memory and processor time that took."""

import json
import resource
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[3]
MEGABYTE = 1024 * 1024
READ = "table = open_table(Path(sys.argv[1]), 'hours'); said = sum(1 for _ in table.rows())"
SCRIPT = """
import json, resource, sys
from pathlib import Path
import django
django.setup()  # for the language of what is said
from fleet.core.errors import FleetError
from fleet.imports.table import open_table
used = lambda: resource.getrusage(resource.RUSAGE_SELF)
before = used()
try:
    {work}
except FleetError as error:
    said = error.sentence
after = used()
seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
print(json.dumps([said, (after.ru_maxrss - before.ru_maxrss) * 1024, seconds]))
"""


@dataclass(frozen=True)
class Measured:
    """said: the sentence of a refusal, or the number of rows. memory in bytes above what the process began
    with, seconds of processor time."""

    said: str | int
    memory: int
    seconds: float


def _bounded() -> None:
    """An attack that works must not take the tests' machine down: it ends at 1.5 GB and 60 s."""
    resource.setrlimit(resource.RLIMIT_AS, (1536 * MEGABYTE, 1536 * MEGABYTE))
    resource.setrlimit(resource.RLIMIT_CPU, (60, 60))


def measured(data: bytes, folder: Path, work: str = READ) -> Measured:
    """Have `work` done on a file that holds these bytes."""
    path = folder / "sent"
    path.write_bytes(data)
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT.format(work=work), str(path)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        preexec_fn=_bounded,
    )
    assert done.returncode == 0, done.stderr[-2000:] or f"ended by signal {-done.returncode}"
    return Measured(*json.loads(done.stdout))
