"""Which machines a report names first, and which it has anything to say about."""

from servicing.ledger.monthly_sheet import Expected, MachineMonth, Sheet

FIRST = 5  # machines named before the rest


def worked_on(sheet: Sheet) -> list[MachineMonth]:
    """Return the machines with work due, a backlog, deferred lines or down time, by fleet number."""
    return [
        row
        for row in sheet.rows
        if row.marks.due or row.marks.carried_in or row.marks.still_open or row.deferred or row.days_down
    ]


def behind(sheet: Sheet) -> list[MachineMonth]:
    """Return the machines with undone or late work: most undone first, then most late."""
    found = [row for row in sheet.rows if _undone(row) or row.marks.late]
    return sorted(found, key=lambda row: (-_undone(row), -row.marks.late, row.tag))


def dearest(sheet: Sheet) -> list[MachineMonth]:
    """Return the machines that cost anything, the dearest first."""
    return sorted((row for row in sheet.rows if row.cost.total), key=lambda row: (-row.cost.total, row.tag))


def coming(sheet: Sheet) -> list[Expected]:
    """Return the machines on which a task is expected, by fleet number."""
    return [row for row in sheet.ahead if row.coming.jobs]


def busiest(sheet: Sheet) -> list[Expected]:
    """Return the same: most overdue first, then most labour."""
    return sorted(
        coming(sheet), key=lambda row: (-row.coming.overdue, -row.coming.minutes, -row.coming.jobs, row.tag)
    )


def _undone(row: MachineMonth) -> int:
    return row.marks.not_done + row.marks.still_open
