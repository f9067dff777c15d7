"""Faults tried in a copy of the checkout: the code in hand is never touched."""

import os
import shlex
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import Pool, Queue, current_process
from pathlib import Path

from cosmic_ray.mutating import mutate_and_test
from cosmic_ray.work_item import MutationSpec, TestOutcome, WorkerOutcome

from tests.mutants.rooms import command

TIMEOUT = 90  # seconds; what takes several times as long as the tests do runs for ever, and is noticed


@dataclass(frozen=True)
class Tried:
    """A fault and whether a test noticed it. was, now: the lines it changed, without their indent."""

    module: str
    line: int
    operator: str
    was: str
    now: str
    noticed: bool


def all_of(faults: Sequence[MutationSpec], checkout: Path, at_once: int) -> Iterator[Tried]:
    """Try each fault, several at once, each process in its own copy; yield them as they are done."""
    python = checkout / ".venv/bin/python"
    with copies(checkout, at_once) as made:
        folders: Queue[Path] = Queue()
        for each in made:
            folders.put(each)
        with Pool(at_once, _enter, (folders, python)) as pool:
            yield from pool.imap_unordered(one, faults)


@contextmanager
def copies(checkout: Path, number: int) -> Iterator[list[Path]]:
    """Yield copies of what git knows of the checkout, as it stands in the folder."""
    known = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=checkout,
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split("\0")
    with tempfile.TemporaryDirectory(prefix="hourmark-mutants-") as folder:
        made = [Path(folder) / str(n) for n in range(number)]
        for each in made:
            for name in filter(None, known):
                if (checkout / name).is_file():
                    (each / name).parent.mkdir(parents=True, exist_ok=True)
                    shutil.copy(checkout / name, each / name)
        yield made


def one(fault: MutationSpec) -> Tried:
    """Try a fault in this process's copy. Raises RuntimeError where it can't be tried at all."""
    run = command(fault.module_path, os.environ["HOURMARK_PYTHON"])
    done = mutate_and_test([fault], shlex.join(run), TIMEOUT)
    if done.worker_outcome != WorkerOutcome.NORMAL or done.test_outcome == TestOutcome.INCOMPETENT:
        raise RuntimeError(f"{fault}: {done.output}")
    changed = [line for line in done.diff.splitlines() if line[:3] not in ("---", "+++")]
    was, now = ("; ".join(line[1:].strip() for line in changed if line[:1] == sign) for sign in "-+")
    return Tried(
        module=str(fault.module_path),
        line=fault.start_pos[0],
        operator=fault.operator_name.removeprefix("core/"),
        was=was,
        now=now,
        noticed=done.test_outcome == TestOutcome.KILLED,
    )


def _enter(folders: "Queue[Path]", python: Path) -> None:
    os.chdir(folders.get())
    os.environ["HOURMARK_PYTHON"] = str(python)
    current_process().name = f"mutants in {Path.cwd().name}"
