"""What is said between the lines of a job sheet, on screen, on a phone and on paper alike."""

from fleet.core.wording import worktime
from servicing.job_sheet.build import JobSheet, SheetLine


def hands_on(sheet: JobSheet) -> str:
    """Return the labour time, and how many tasks that lacks whose minutes aren't entered."""
    lacking = (
        f"{sheet.untimed} task{'s' if sheet.untimed > 1 else ''} without minutes" if sheet.untimed else ""
    )
    known = worktime(sheet.minutes) if sheet.minutes or not lacking else ""
    return ", ".join(filter(None, (known, lacking)))


def before(row: SheetLine) -> list[str]:
    """Return what comes before a line: waiting until the engine is cold, running it warm."""
    said = []
    if row.idle:
        said.append(f"Wait about {worktime(row.idle)} until the engine is cold.")
    if row.warm_up:
        said.append(f"Close everything, run the engine warm ({worktime(row.warm_up)}), switch it off.")
    return said


def while_it_waits(row: SheetLine) -> str:
    """Return what to do while a line waits; "" if it doesn't. Nobody starts an engine without its oil."""
    task = row.line.task
    if task is None or not task.wait_minutes:
        return ""
    pause = f"Leave it to drain or settle ({worktime(task.wait_minutes)})"
    if not row.meanwhile:
        return f"{pause}: wait, then finish it. Do not start the engine before."
    *some, last = map(str, row.meanwhile)
    numbers = f"{', '.join(some)} and {last}" if some else last
    return f"{pause}: go on with {numbers}, then come back. Do not start the engine until it is finished."


def then_back(row: SheetLine) -> str:
    """Return what is gone back to after a line, and what is closed then; "" if nothing is."""
    if row.back is None:
        return ""
    closes = f" Close: {', '.join(row.back.closes)}." if row.back.closes else ""
    if row.back.line == row.line:
        return closes.strip()
    wait = f" Wait another {worktime(row.back.idle)} first if needed." if row.back.idle else ""
    return f"Go back to {row.back.number}, {row.back.line.title}, and finish it.{wait}{closes}"
