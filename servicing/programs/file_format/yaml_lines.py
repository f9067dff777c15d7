"""Rows and lists that remember in which lines of their file they were written."""

from typing import Any


class Row(dict[Any, Any]):
    """Keys with values. `line` is where the row begins, `lines` where each key stands, counted from 1."""

    line: int | None = None
    lines: dict[Any, int]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines = {}


class Listed(list[Any]):
    """A list. `lines` says where each entry began; it is trusted only while the list is as long as read."""

    lines: list[int]


def line_of(value: Any, key: Any = None) -> int | None:
    """Return the line of a key or an entry, else of the whole; None where nothing was read from a file."""
    if isinstance(value, Row):
        return value.lines.get(key, value.line)
    if isinstance(value, Listed) and isinstance(key, int) and len(getattr(value, "lines", ())) == len(value):
        return value.lines[key]
    return None
