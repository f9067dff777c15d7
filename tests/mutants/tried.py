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
from cosmic_ray.testing import run_tests
from cosmic_ray.work_item import MutationSpec, TestOutcome, WorkerOutcome

from tests.mutants.rooms import command, room_of

TIMEOUT = 90  # seconds; what takes several times as long as the tests do runs for ever, and is noticed


@dataclass(frozen=True)
class Tried:
    """A fault and whether a test noticed it. was, now: the lines it changed, without their indent.

    endless: nothing failed, but the tests hadn't ended by TIMEOUT; it counts as noticed.
    """

    module: str
    line: int
    operator: str
    was: str
    now: str
    noticed: bool
    endless: bool


def all_of(faults: Sequence[MutationSpec], checkout: Path, at_once: int) -> Iterator[Tried]:
    """Try each fault, several at once, each process in its own copy; yield them as they are done.

    Raises RuntimeError where the tests fail without a fault: they would notice whatever is put in.
    """
    python = checkout / ".venv/bin/python"
    with copies(checkout, at_once) as made:
        folders: Queue[Path] = Queue()
        for each in made:
            folders.put(each)
        with Pool(at_once, _enter, (folders, python)) as pool:
            for _ in pool.imap_unordered(without_fault, _one_of_each_room(faults)):
                pass
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


def without_fault(module: Path) -> None:
    """Run the tests of a module's room on the code as it is. Raises RuntimeError where they fail."""
    outcome, output = run_tests(_command(module), TIMEOUT)
    if outcome != TestOutcome.SURVIVED:
        raise RuntimeError(f"The tests of {module} fail without any fault:\n{output}")


def one(fault: MutationSpec) -> Tried:
    """Try a fault in this process's copy. Raises RuntimeError where it can't be tried at all."""
    done = mutate_and_test([fault], _command(fault.module_path), TIMEOUT)
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
        endless=done.output == "timeout",
    )


def _command(module: Path) -> str:
    return shlex.join(command(module, os.environ["HOURMARK_PYTHON"]))


def _one_of_each_room(faults: Sequence[MutationSpec]) -> list[Path]:
    return list({room_of(fault.module_path).code: fault.module_path for fault in faults}.values())


def _enter(folders: "Queue[Path]", python: Path) -> None:
    os.chdir(folders.get())
    os.environ["HOURMARK_PYTHON"] = str(python)
    current_process().name = f"mutants in {Path.cwd().name}"
