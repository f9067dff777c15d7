"""What was entered on an order beside what is recorded by now: where they differ, whose it is, since when."""

from collections.abc import Iterator, Mapping

from fleet.core.errors import FleetError
from servicing.measurements import limits
from servicing.models import Line, WorkOrder
from servicing.workorders.entries import CheckEntry, Entries, LineEntry
from servicing.workorders.errors import Differing, Path, Recorder
from servicing.workorders.saved_entries import stored

Units = Mapping[tuple[int, int], str]
"""The unit of each check's limit, by line and check."""
LINE = ("outcome", "reason", "deferred_until", "note")


def recorders(order: WorkOrder) -> dict[Path, Recorder]:
    """Return who recorded what: by ("lines", 12) for what came of a line, by its path for each check.

    What was emptied, and parts and minutes, don't say who.
    """
    found: dict[Path, Recorder] = {}
    for line in _lines(order):
        if line.recorded_at:
            found["lines", line.pk] = Recorder(str(line.recorded_by or ""), line.recorded_at)
        for result in line.results.all():
            path = ("lines", line.pk, "checks", result.check_made_id)
            found[path] = Recorder(str(result.recorded_by or ""), result.recorded_at)
    return found


def recorder_of(path: Path, known: dict[Path, Recorder]) -> Recorder | None:
    """Return who recorded the entry at a path; None where that isn't known."""
    return known.get(path[:4] if "checks" in path else path[:2])


def differing(order: WorkOrder, entries: Entries) -> list[Differing]:
    """Return where entries differ from the order's record, in the record's order; what only one has, too."""
    units = {
        (line.pk, check.pk): limits.spelled(check.unit)
        for line in order.lines.select_related("task").prefetch_related("task__checks")
        for check in (line.task.checks.all() if line.task else ())
    }
    sent, kept = dict(_values(entries, units)), dict(_values(stored(order), units))
    known = recorders(order)
    paths = [*kept, *(path for path in sent if path not in kept)]
    return [
        Differing(path, sent.get(path, ""), kept.get(path, ""), recorder_of(path, known))
        for path in paths
        if sent.get(path, "") != kept.get(path, "")
    ]


def _lines(order: WorkOrder) -> list[Line]:
    lines = order.lines.select_related("recorded_by__user")
    return list(lines.prefetch_related("results__recorded_by__user"))


def _values(entries: Entries, units: Units) -> Iterator[tuple[Path, str]]:
    for entry in entries.lines:
        where = ("lines", entry.line)
        yield from (((*where, name), _word(entry, name)) for name in LINE)
        for row in entry.checks:
            usual = units.get((entry.line, row.check), "")
            for moment in ("found", "left"):
                yield (*where, "checks", row.check, moment), _measured(row, moment, usual)
    for use in entries.parts:
        yield ("parts", use.part, "quantity"), limits.plain(use.quantity)
    for spent in entries.labour:
        yield ("labour", spent.technician, "minutes"), str(spent.minutes)


def _word(entry: LineEntry, name: str) -> str:
    value = getattr(entry, name)
    if value is None:
        return ""
    return value.strip() if isinstance(value, str) else value.isoformat()


def _measured(row: CheckEntry, moment: str, usual: str) -> str:
    typed, unit = getattr(row, moment).strip(), getattr(row, f"{moment}_unit").strip()
    if not typed:
        return ""
    try:
        typed = limits.plain(limits.number(typed))
    except FleetError:
        return typed  # a word, or nothing that can be read
    return f"{typed} {unit or usual}".strip()
