"""What fills the phone at once, one after the other: an order's sheet cut into single steps."""

from dataclasses import dataclass, replace

from servicing.job_sheet.build import JobSheet, Return, SheetLine, Step
from servicing.models import Line


@dataclass(frozen=True)
class Screen:
    """One step of one line. `row`: the line it belongs to; none when getting ready and at the end.

    The last instruction of a line stands with its checks and what came of it, so `asks` there. `leaves`:
    after this step the line waits and others go on. `back`: here it is gone back to, after others. `closes`:
    the covers that are closed after this step.
    """

    number: int
    row: SheetLine | None = None
    step: Step | None = None
    place: int = 1
    of: int = 1
    leaves: bool = False
    back: Return | None = None
    closes: tuple[str, ...] = ()

    @property
    def asks(self) -> bool:
        """Whether entries of a line are made here."""
        return self.row is not None and self.place == self.of

    @property
    def line(self) -> Line:
        """The line that entries are made of here."""
        assert self.row is not None
        return self.row.line

    @property
    def waits(self) -> bool:
        """Whether the line waits after this step and nothing else goes on meanwhile."""
        return self.row is not None and not self.leaves and self.place == self.row.waits_after < self.of


def screens(job: JobSheet) -> list[Screen]:
    """Return the screens of a sheet: getting ready, each step of each line in the order of work, the end.

    A line that is left to wait after one of its steps has the rest of them where the order of work goes back
    to it; one that waits after its last step is asked about there, and gone back to.
    """
    made = [Screen(1)]
    left: list[Screen] = []
    for row in job.lines:
        steps = row.steps or (None,)
        own = [Screen(0, row, step, place, len(steps)) for place, step in enumerate(steps, start=1)]
        if row.meanwhile and 0 < row.waits_after < len(own):
            begun, left = own[: row.waits_after], own[row.waits_after :]
            begun[-1] = replace(begun[-1], leaves=True, closes=row.closes)
            made += begun
            continue
        own[-1] = replace(own[-1], closes=row.closes)
        made += own
        if left and row.back and row.back.line == left[0].line:
            left[-1] = replace(left[-1], closes=row.back.closes)
            left[0] = replace(left[0], back=row.back)
            made += left
            left = []
    return [replace(each, number=number) for number, each in enumerate([*made, Screen(0)], start=1)]
