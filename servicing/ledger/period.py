"""A calendar month in a zone: which days it has, and the two moments between which they lie."""

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


@dataclass(frozen=True, order=True)
class Month:
    """A month of the calendar."""

    year: int
    number: int

    def __str__(self) -> str:
        return f"{self.year:04d}-{self.number:02d}"

    @classmethod
    def of(cls, day: date) -> "Month":
        """Return the month that has this day."""
        return cls(day.year, day.month)

    @classmethod
    def parse(cls, text: str) -> "Month":
        """Read '2026-10'. Raises ValueError for anything else."""
        if not re.fullmatch(r"[0-9]{4}-[0-9]{2}", text):
            raise ValueError("a month is written like 2026-10")
        return cls.of(date(int(text[:4]), int(text[5:]), 1))

    def plus(self, months: int) -> "Month":
        """Return the month so many months later (earlier when negative)."""
        year, index = divmod(self.year * 12 + self.number - 1 + months, 12)
        return Month(year, index + 1)

    @property
    def first_day(self) -> date:
        """Its first day."""
        return date(self.year, self.number, 1)

    @property
    def last_day(self) -> date:
        """Its last day."""
        return self.plus(1).first_day - timedelta(days=1)

    def bounds(self, zone: ZoneInfo) -> tuple[datetime, datetime]:
        """Return the month's first moment and the next month's, midnights of the zone, as UTC."""
        midnights = (datetime.combine(m.first_day, time(), zone) for m in (self, self.plus(1)))
        start, end = (midnight.astimezone(UTC) for midnight in midnights)
        return start, end
