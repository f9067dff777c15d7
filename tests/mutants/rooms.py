"""The code that faults are put into, and the tests that must notice them."""

import os
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Room:
    """A package or module with its quick tests; both relative to the checkout.

    pure: the tests need neither a database nor the settings, and start at once without them.
    """

    code: str
    tests: tuple[str, ...]
    pure: bool = True

    def modules(self) -> list[Path]:
        """Return its modules, in order."""
        path = Path(self.code)
        return [path] if path.is_file() else sorted(path.glob("*.py"))


ROOMS = (
    Room("fleet/usage", ("tests/fleet/usage/test_measured.py", "tests/fleet/usage")),
    Room("servicing/planning", ("tests/servicing/planning",)),
    Room("servicing/ledger", ("tests/servicing/ledger",)),
    Room(
        "servicing/measurements/limits.py",
        ("tests/servicing/measurements/test_limits.py", "tests/servicing/measurements/test_rules.py"),
        pure=False,
    ),
)
WITHOUT_DJANGO = (
    *("-c", os.devnull, "--rootdir", ".", "--noconftest", "--import-mode", "importlib"),
    *("-p", "tests.steady", "-W", "error", "-o", "pythonpath=."),
)


def room_of(module: Path) -> Room:
    """Return the room a module stands in."""
    return next(room for room in ROOMS if module == Path(room.code) or Path(room.code) in module.parents)


def command(module: Path, python: str) -> list[str]:
    """Return the command that runs the tests of the room a module stands in, the module's own tests first."""
    room = room_of(module)
    own = [
        path for path in (f"{tests}/test_{module.stem}.py" for tests in room.tests) if Path(path).is_file()
    ]
    pytest = [python, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider"]
    if room.pure:
        pytest = ["env", "PYTEST_DISABLE_PLUGIN_AUTOLOAD=1", *pytest, *WITHOUT_DJANGO]
    return [*pytest, *own, *room.tests]
