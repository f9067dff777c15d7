"""What is said between the lines of a job sheet, on screen, on a phone and on paper alike."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.core.wording import worktime
from servicing.job_sheet.build import JobSheet, SheetLine


def hands_on(sheet: JobSheet) -> str:
    """Return the labour time, and how many tasks that lacks whose minutes aren't entered."""
    lacking = ngettext("{number} task without minutes", "{number} tasks without minutes", sheet.untimed)
    lacking = lacking.format(number=sheet.untimed) if sheet.untimed else ""
    known = worktime(sheet.minutes) if sheet.minutes or not lacking else ""
    return ", ".join(filter(None, (known, lacking)))


def before(row: SheetLine) -> list[str]:
    """Return what comes before a line: waiting until the engine is cold, running it warm."""
    said = []
    if row.idle:
        said.append(_("Wait about {time} until the engine is cold.").format(time=worktime(row.idle)))
    if row.warm_up:
        warm = _("Close everything, run the engine warm ({time}), switch it off.")
        said.append(warm.format(time=worktime(row.warm_up)))
    return said


def while_it_waits(row: SheetLine) -> str:
    """Return what to do while a line waits; "" if it doesn't. Nobody starts an engine without its oil."""
    task = row.line.task
    if task is None or not task.wait_minutes:
        return ""
    time = worktime(task.wait_minutes)
    if not row.meanwhile:
        return _(
            "Leave it to drain or settle ({time}): wait, then finish it. Do not start the engine before."
        ).format(time=time)
    *some, last = map(str, row.meanwhile)
    numbers = _("{some} and {last}").format(some=", ".join(some), last=last) if some else last
    return _(
        "Leave it to drain or settle ({time}): go on with {numbers}, then come back. "
        "Do not start the engine until it is finished."
    ).format(time=time, numbers=numbers)


def then_back(row: SheetLine) -> str:
    """Return what is gone back to after a line, and what is closed then; "" if nothing is."""
    if row.back is None:
        return ""
    said = []
    if row.back.line != row.line:
        back = _("Go back to {number}, {title}, and finish it.")
        said.append(back.format(number=row.back.number, title=row.back.line.title))
        if row.back.idle:
            wait = _("Wait another {time} first if needed.")
            said.append(wait.format(time=worktime(row.back.idle)))
    if row.back.closes:
        said.append(_("Close: {covers}.").format(covers=", ".join(row.back.closes)))
    return " ".join(said)
