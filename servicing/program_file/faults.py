"""What is wrong with a program file, place by place."""

from collections.abc import Sequence

from fleet.errors import FleetError


class ProgramFaults(FleetError):
    """A program that can't be loaded. `faults` says each thing to put right, with its place in the file."""

    code = "program-refused"

    def __init__(self, faults: Sequence[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = list(faults)


class Faults:
    """Collects faults; `at` gives a collector for a place further in that reports to the same list."""

    def __init__(self, place: str = "", said: list[str] | None = None) -> None:
        self.place = place
        self.said: list[str] = [] if said is None else said

    def at(self, place: str) -> "Faults":
        """Return a collector for a place inside this one."""
        return Faults(f"{self.place}: {place}" if self.place else place, self.said)

    def say(self, sentence: str) -> None:
        """Note a fault at this place."""
        self.said.append(f"{self.place}: {sentence}" if self.place else sentence)
