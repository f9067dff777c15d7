"""What a month's report says in sentences, on screen and on paper alike."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.core.wording import figure, hours, money, month_of_year, worktime
from fleet.usage.figures import TIGHT, day_and_month, marked
from servicing.duties.expected_work import DAYS
from servicing.ledger.costs import STANDARD, Cost
from servicing.ledger.monthly_sheet import Sheet
from servicing.ledger.outlook import Outlook


@dataclass(frozen=True)
class Answer:
    """The answer to one question: a figure, what it is, and what else there is to say."""

    figure: str
    name: str
    more: str


def title(sheet: Sheet) -> str:
    """Return `October 2026`, with `so far` while it runs."""
    month = month_of_year(sheet.month.first_day)
    return _("{month} so far").format(month=month) if sheet.running else month


def report_of(sheet: Sheet) -> str:
    """Return `Report, October 2026`, with `so far` while it runs."""
    return _("Report, {month}").format(month=title(sheet))


def ran(sheet: Sheet) -> str:
    """Return how many machines ran how long, and up to which day while the month runs."""
    said = {"n": len(sheet.rows), "hours": hours(sheet.hours), "day": day_and_month(sheet.until)}
    if not sheet.rows:
        nothing = _("No machine was in service, up to {day}.")
        return nothing.format(**said) if sheet.running else _("No machine was in service.")
    if sheet.running:
        return ngettext(
            "{n}\u00a0machine, {hours} run, up to {day}.",
            "{n}\u00a0machines, {hours} run, up to {day}.",
            len(sheet.rows),
        ).format(**said)
    return ngettext(
        "{n}\u00a0machine, {hours} run.", "{n}\u00a0machines, {hours} run.", len(sheet.rows)
    ).format(**said)


def kept(sheet: Sheet) -> Answer:
    """Are we keeping up?"""
    marks = sheet.marks
    none = _("No task fell due.") if sheet.planned else _("No service programme says yet what falls due.")
    said = [f"{', '.join(_marks(sheet))}." if marks.due else none]
    if marks.carried_in or marks.still_open:
        said.append(
            _("Backlog: {done}\u00a0done, {open}\u00a0still open.").format(
                done=marks.carried_in, open=marks.still_open
            )
        )
    if sheet.deferred:
        said.append(
            ngettext("{n}\u00a0line deferred.", "{n}\u00a0lines deferred.", sheet.deferred).format(
                n=sheet.deferred
            )
        )
    if sheet.usable is not None:
        said.append(
            _("Down time {days}\u00a0days, availability {share}\u00a0%.").format(
                days=figure(sheet.days_down, 1), share=marked(str(sheet.usable))
            )
        )
    return Answer(_share(marks.of_due), _("schedule compliance"), " ".join(said))


def _marks(sheet: Sheet) -> list[str]:
    """What became of the tasks that fell due, each as it stands alone."""
    marks = sheet.marks
    said = [
        ngettext(
            "{done} of {n}\u00a0task done in time", "{done} of {n}\u00a0tasks done in time", marks.due
        ).format(done=marks.in_time, n=marks.due)
    ]
    if marks.late:
        said.append(_("{n}\u00a0late").format(n=marks.late))
    if marks.not_done and sheet.running:
        said.append(_("{n}\u00a0not done yet").format(n=marks.not_done))
    elif marks.not_done:
        said.append(_("{n}\u00a0not done by the end of the month").format(n=marks.not_done))
    return said


def spent(sheet: Sheet, organisation: Any) -> Answer:
    """What did it cost?"""
    cost = sheet.cost
    said = [
        _("Parts\u00a0{parts}, labour\u00a0{labour}.").format(
            parts=figure(cost.parts, 2), labour=figure(cost.labour, 2)
        )
    ]
    if sheet.per_hour is not None:
        said.insert(
            0,
            _("{hours} run, so {cost} an hour.").format(
                hours=hours(sheet.hours), cost=money(sheet.per_hour, organisation)
            ),
        )
    if lacking := lacks(cost):
        said.append(lacking)
    return Answer(money(cost.total, organisation), _("parts and labour"), " ".join(said))


def expected(sheet: Sheet, organisation: Any, today: date) -> Answer:
    """What comes?"""
    ahead = sheet.coming
    since = _("from {day}").format(day=day_and_month(today))
    if not sheet.planned:
        return Answer("–", _("tasks"), _("We can't tell yet: no machine has a service programme."))
    if not ahead.jobs:
        none = ngettext("{n} task", "{n} tasks", 0).format(n=0)
        return Answer(none, since, _("Nothing is likely to fall due."))
    said = [
        _("{labour} of labour, {cost} of supplies.").format(
            labour=worktime(ahead.minutes), cost=f"{figure(ahead.supplies)}{TIGHT}{organisation.currency}"
        )
    ]
    if ahead.overdue:
        said.append(
            ngettext(
                "{n}\u00a0task is overdue today.", "{n}\u00a0tasks are overdue today.", ahead.overdue
            ).format(n=ahead.overdue)
        )
    if lacking := ahead_lacks(ahead):
        said.append(lacking)
    tasks = figure(ahead.jobs)
    about = ngettext("About {n}\u00a0task", "About {n}\u00a0tasks", 1 if tasks == "1" else 2)
    return Answer(about.format(n=tasks), since, " ".join(said))


def lacks(cost: Cost) -> str:
    """Return what the cost knows no amount of; "" when nothing is missing."""
    parts = ngettext("{n}\u00a0part without a price", "{n}\u00a0parts without a price", cost.unpriced)
    entries = ngettext(
        "{n}\u00a0labour entry without an hourly rate",
        "{n}\u00a0labour entries without an hourly rate",
        cost.unrated,
    )
    orders = ngettext("{n}\u00a0order without time", "{n}\u00a0orders without time", cost.untimed)
    lacking = ((parts, cost.unpriced), (entries, cost.unrated), (orders, cost.untimed))
    said = [words.format(n=number) for words, number in lacking if number]
    return _("Not in the cost: {what}.").format(what=_all_of(said)) if said else ""


def _all_of(said: list[str]) -> str:
    """`this, that and those`."""
    *some, last = said
    return _("{one} and {other}").format(one=", ".join(some), other=last) if some else last


def ahead_lacks(ahead: Outlook) -> str:
    """Return what the coming days' labour and supplies know no amount of; "" when nothing is missing."""
    said = []
    if ahead.untimed:
        said.append(
            ngettext(
                "Not in the labour time: {n}\u00a0task without minutes.",
                "Not in the labour time: {n}\u00a0tasks without minutes.",
                ahead.untimed,
            ).format(n=ahead.untimed)
        )
    if ahead.unpriced:
        said.append(
            ngettext(
                "Not in the cost of supplies: {n}\u00a0supply without a price.",
                "Not in the cost of supplies: {n}\u00a0supplies without a price.",
                ahead.unpriced,
            ).format(n=ahead.unpriced)
        )
    return " ".join(said)


def labour(ahead: Outlook) -> str:
    """Return one machine's labour to come; said where it was never entered."""
    return worktime(ahead.minutes) if ahead.minutes or not ahead.untimed else _("not entered")


def supplies(ahead: Outlook) -> str:
    """Return what one machine's supplies to come cost, without the currency; said where it isn't known."""
    return figure(ahead.supplies) if ahead.supplies or not ahead.unpriced else _("not entered")


def hours_left_out(sheet: Sheet) -> str:
    """Return which hours stand in no row, or not in the total; "" when all do."""
    said = []
    if sheet.silent:
        said.append(
            ngettext(
                "No hours for {n}\u00a0machine: too few readings.",
                "No hours for {n}\u00a0machines: too few readings.",
                sheet.silent,
            ).format(n=sheet.silent)
        )
    if sheet.hanging:
        said.append(
            ngettext(
                "An attachment counts the hours of the machine it is mounted on, so the total leaves out "
                "{n}\u00a0attachment.",
                "An attachment counts the hours of the machine it is mounted on, so the total leaves out "
                "{n}\u00a0attachments.",
                sheet.hanging,
            ).format(n=sheet.hanging)
        )
    return " ".join(said)


def standard(sheet: Sheet, organisation: Any) -> str:
    """Return what the standard's column is; "" without one."""
    if not sheet.compared:
        return ""
    said = (
        _(
            "The standard is {standard}: accumulated repair and maintenance cost of a two-wheel-drive "
            "tractor is {factor} × price × (hours / 1000)²."
        ).format(standard=STANDARD, factor=marked("0.007")),
        _("We use it only for tractors whose price is known, with the price paid as the list price."),
        _("It is a curve over a whole life, so one month may be far off it."),
        _("Those tractors cost {amount}.").format(amount=money(sheet.compared[0], organisation)),
    )
    return " ".join(said)


def how_counted(sheet: Sheet) -> list[str]:
    """Return how the report counts, a paragraph each."""
    of_done = sheet.marks.of_done
    compliance = (
        _("Schedule compliance is what was done in time out of what fell due.")
        if of_done is None
        else _(
            "Schedule compliance is what was done in time out of what fell due; out of what was done it "
            "would be {share}."
        ).format(share=_share(of_done))
    )
    marks = (
        _(
            "A task falls due when the machine reaches its due hours, plus the lateness its programme "
            "allows, or on its due date, whichever comes first; if it was done before that, it counts in the "
            "month it was done."
        ),
        _("In time means by then, late means after it but within the month."),
        _("The backlog is what fell due in earlier months."),
        compliance,
        _("If nothing fell due there is none."),
    )
    costs = (
        _(
            "Hours between two readings are spread evenly over the time between them; hours after the last "
            "reading are not counted."
        ),
        _("Costs are those of orders closed in the month."),
        _("A machine is down while it is tagged out or in the shop; both at once count once."),
        _("Availability is the share of machine days without down time."),
    )
    coming = (
        _(
            "What comes is expected, not certain: each task counts with its chance of falling due within "
            "{days} days, from its early, likely and late day, and counts again each time it comes round at "
            "the machine's hours a day of the last 90 days."
        ).format(days=DAYS),
        _("We count from today, whichever month is shown."),
        _("The operator's daily checks (tasks of ten hours or less) are left out."),
        _("Supplies are at today's prices, whatever is in stock."),
    )
    return [" ".join(paragraph) for paragraph in (marks, costs, coming)]


def _share(value: Decimal | None) -> str:
    return "–" if value is None else f"{marked(str(value))}{TIGHT}%"
