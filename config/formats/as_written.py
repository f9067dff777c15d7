"""Days as their reader writes them, where the framework writes them: in the administration."""

from fleet.usage.figures import ISO, MONTH_FIRST, writing

OTHERWISE = {MONTH_FIRST: "M j, Y", ISO: "Y-m-d"}


class AsWritten(str):
    """A format of days, with the time in 24 hours or without, for who reads it now.

    A string that the framework may keep for a language: it says who reads it only when it is used.
    """

    def __new__(cls, usual: str, time: str = "") -> "AsWritten":
        """Take how the language writes days, and what follows them."""
        new = super().__new__(cls, usual + time)
        new.usual, new.time = usual, time
        return new

    usual: str
    time: str

    def __str__(self) -> str:
        return OTHERWISE.get(writing().days, self.usual) + self.time
