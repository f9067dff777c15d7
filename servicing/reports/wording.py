"""What a month's report says in sentences, on screen and on paper alike."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from fleet.core.wording import figure, hours, money, worktime
from fleet.usage.figures import TIGHT, long_day
from servicing.duties.expected_work import DAYS
from servicing.ledger.costs import STANDARD, Cost
from servicing.ledger.monthly_sheet import Sheet
from servicing.ledger.outlook import Outlook

NOT_ENTERED = "not entered"


@dataclass(frozen=True)
class Answer:
    """The answer to one question: a figure, what it is, and what else there is to say."""

    figure: str
    name: str
    more: str


def title(sheet: Sheet) -> str:
    """Return `October 2026`, with `so far` while it runs."""
    return f"{sheet.month.first_day:%B %Y}{' so far' if sheet.running else ''}"


def ran(sheet: Sheet) -> str:
    """Return how many machines ran how long, and up to which day while the month runs."""
    rows = len(sheet.rows)
    until = f", up to {_day(sheet.until)}" if sheet.running else ""
    said = f"{_count(rows, 'machine')}, {hours(sheet.hours)} run" if rows else "No machine was in service"
    return f"{said}{until}."


def kept(sheet: Sheet) -> Answer:
    """Are we keeping up?"""
    marks = sheet.marks
    parts = [f"{marks.in_time} of {_count(marks.due, 'task')} done in time"] if marks.due else []
    if marks.late:
        parts.append(f"{marks.late}{TIGHT}late")
    if marks.not_done:
        parts.append(
            f"{marks.not_done}{TIGHT}not done{' yet' if sheet.running else ' by the end of the month'}"
        )
    said = [f"{', '.join(parts)}." if parts else "No task fell due."]
    if marks.carried_in or marks.still_open:
        said.append(f"Backlog: {marks.carried_in}{TIGHT}done, {marks.still_open}{TIGHT}still open.")
    if sheet.deferred:
        said.append(f"{_count(sheet.deferred, 'line')} deferred.")
    if sheet.usable is not None:
        said.append(
            f"Down time {figure(sheet.days_down, 1)}{TIGHT}days, availability {sheet.usable}{TIGHT}%."
        )
    share = "–" if marks.of_due is None else f"{marks.of_due}{TIGHT}%"
    return Answer(share, "schedule compliance", " ".join(said))


def spent(sheet: Sheet, organisation: Any) -> Answer:
    """What did it cost?"""
    cost = sheet.cost
    said = [f"Parts{TIGHT}{figure(cost.parts, 2)}, labour{TIGHT}{figure(cost.labour, 2)}."]
    if sheet.per_hour is not None:
        said.insert(0, f"{hours(sheet.hours)} run, so {money(sheet.per_hour, organisation)} an hour.")
    if lacking := lacks(cost):
        said.append(lacking)
    return Answer(money(cost.total, organisation), "parts and labour", " ".join(said))


def expected(sheet: Sheet, organisation: Any, today: date) -> Answer:
    """What comes?"""
    ahead = sheet.coming
    if not ahead.jobs:
        return Answer("0 tasks", f"from {_day(today)}", "Nothing is likely to fall due.")
    supplies = f"{figure(ahead.supplies)}{TIGHT}{organisation.currency}"
    said = [f"{worktime(ahead.minutes)} of labour, {supplies} of supplies."]
    if ahead.overdue:
        said.append(f"{_count(ahead.overdue, 'task')} {'is' if ahead.overdue == 1 else 'are'} overdue today.")
    if lacking := ahead_lacks(ahead):
        said.append(lacking)
    tasks = figure(ahead.jobs)
    return Answer(
        f"About {tasks}{TIGHT}task{'' if tasks == '1' else 's'}", f"from {_day(today)}", " ".join(said)
    )


def lacks(cost: Cost) -> str:
    """Return what the cost knows no amount of; "" when nothing is missing."""
    parts = [
        (cost.unpriced, "part", "parts", "without a price"),
        (cost.unrated, "labour entry", "labour entries", "without an hourly rate"),
        (cost.untimed, "order", "orders", "without time"),
    ]
    said = [f"{_count(number, one, many)} {what}" for number, one, many, what in parts if number]
    if not said:
        return ""
    return f"Not in the cost: {' and '.join(filter(None, (', '.join(said[:-1]), said[-1])))}."


def ahead_lacks(ahead: Outlook) -> str:
    """Return what the coming days' labour and supplies know no amount of; "" when nothing is missing."""
    said = []
    if ahead.untimed:
        said.append(f"Not in the labour time: {_count(ahead.untimed, 'task')} without minutes.")
    if ahead.unpriced:
        said.append(
            f"Not in the cost of supplies: {_count(ahead.unpriced, 'supply', 'supplies')} without a price."
        )
    return " ".join(said)


def labour(ahead: Outlook) -> str:
    """Return one machine's labour to come; said where it was never entered."""
    return worktime(ahead.minutes) if ahead.minutes or not ahead.untimed else NOT_ENTERED


def supplies(ahead: Outlook) -> str:
    """Return what one machine's supplies to come cost, without the currency; said where it isn't known."""
    return figure(ahead.supplies) if ahead.supplies or not ahead.unpriced else NOT_ENTERED


def hours_left_out(sheet: Sheet) -> str:
    """Return which hours stand in no row, or not in the total; "" when all do."""
    said = []
    if sheet.silent:
        said.append(f"No hours for {_count(sheet.silent, 'machine')}: too few readings.")
    if sheet.hanging:
        said.append(
            "An attachment counts the hours of the machine it is mounted on, "
            f"so the total leaves out {_count(sheet.hanging, 'attachment')}."
        )
    return " ".join(said)


def standard(sheet: Sheet, organisation: Any) -> str:
    """Return what the standard's column is; "" without one."""
    if not sheet.compared:
        return ""
    return (
        f"The standard is {STANDARD}: accumulated repair and maintenance cost of a two-wheel-drive tractor "
        "is 0.007 × price × (hours / 1000)². We use it only for tractors whose price is known, with the "
        "price paid as the list price. It is a curve over a whole life, so one month may be far off it. "
        f"Those tractors cost {money(sheet.compared[0], organisation)}."
    )


def how_counted(sheet: Sheet) -> list[str]:
    """Return how the report counts, a paragraph each."""
    of_done = sheet.marks.of_done
    other = "" if of_done is None else f"; out of what was done it would be {of_done}{TIGHT}%"
    return [
        "A task falls due when the machine reaches its due hours, plus the lateness its programme allows, or "
        "on its due date, whichever comes first; if it was done before that, it counts in the month it was "
        "done. In time means by then, late means after it but within the month. The backlog is what fell due "
        "in earlier months. Schedule compliance is what was done in time out of what fell due"
        f"{other}. If nothing fell due there is none.",
        "Hours between two readings are spread evenly over the time between them; hours after the last "
        "reading are not counted. Costs are those of orders closed in the month. A machine is down while it "
        "is tagged out or in the shop; both at once count once. Availability is the share of machine days "
        "without down time.",
        "What comes is expected, not certain: each task counts with its chance of falling due within "
        f"{DAYS} days, from its early, likely and late day, and counts again each time it comes round at the "
        "machine's hours a day of the last 90 days. We count from today, whichever month is shown. The "
        "operator's daily checks (tasks of ten hours or less) are left out. Supplies are at today's prices, "
        "whatever is in stock.",
    ]


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number}{TIGHT}{one if number == 1 else many or one + 's'}"


def _day(day: date) -> str:
    return long_day(day).rsplit(" ", 1)[0]
