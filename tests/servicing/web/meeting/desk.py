"""A browser on one page of an order, and what somebody else records meanwhile."""

import re
from datetime import UTC, datetime, timedelta

from django.urls import reverse

from servicing import workorders
from servicing.models import CheckResult, WorkOrder
from servicing.workorders import CheckEntry, LineEntry
from tests.sent_form import as_sent

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
LATER = NOW + timedelta(minutes=5)  # 12:05 on the yard's wall
CHOOSE = "Choose which to keep."

# mine and theirs of each field, and a third; what was recorded when the page was made
VALUES = {
    "found": ("7.4", "7.1", "7.2", "7.3"),
    "left": ("7.4", "7.1", "7.2", "7.3"),
    "note": ("checked warm", "checked cold", "checked twice", "to be checked"),
    "outcome": ("referred", "adjusted", "done", "done"),
}
MORE = {"outcome": {"reason": "to the dealer"}}


def record(farm, member, order, *, parts=(), labour=(), **values):
    """Record these values as another person does, from a page of the order as it is now."""
    with farm.scope():
        order = WorkOrder.objects.get(pk=order.pk)
        line = order.lines.get()
        check = CheckEntry(
            line.task.checks.get().pk, values.get("found", ""), "mm", values.get("left", ""), "mm"
        )
        entry = LineEntry(
            line.pk,
            values.get("outcome", ""),
            values.get("reason", ""),
            values.get("until"),
            values.get("note", ""),
            [check],
        )
        entries = workorders.Entries(lines=[entry], parts=parts, labour=labour)
        return workorders.record(order=order, member=member, revision=order.revision, entries=entries)


def kept(farm, order):
    """What the record says."""
    with farm.scope():
        line = order.lines.get()
        result = CheckResult.objects.filter(line=line).first()
        return {
            "outcome": line.outcome,
            "note": line.note,
            "found": result.as_found if result else "",
            "left": result.as_left if result else "",
        }


class Desk:
    """A browser without JavaScript on one page of an order."""

    def __init__(self, house, role, url):
        self.client, self.url = house.client(role), url
        self.answer = self.client.get(url)
        assert self.answer.status_code == 200

    @property
    def page(self):
        return self.answer.content.decode().replace("\xa0", " ").replace("\u202f", " ")

    def press(self, button="save", **typed):
        """Type into the page's form as it stands and press a button."""
        sent = as_sent(self.page, holding=next(iter(typed), ""))
        sent |= {name: [value] for name, value in typed.items()} | {button: ["yes"]}
        self.answer = self.client.post(self.url, sent)
        return self.answer.status_code

    def asks(self, name):
        """The words of the two answers, where the page asks which value of a field stands; else []."""
        radio = rf'<input type="radio" name="stands-{name}" value="\w+"[^>]*>\s*([^<]*)<'
        found = re.findall(radio, self.page)
        return [each.strip() for each in found]


def closing(order):
    """The address of the closing form."""
    return reverse("order-close", args=[order.pk])


def typed(names, what, value):
    """The fields that enter a value."""
    more = {names[name]: said for name, said in MORE.get(what, {}).items()} if value == "referred" else {}
    return {names[what]: value} | more


def said(what, value):
    """A value as the page says it."""
    if what == "outcome":
        return value.capitalize() + (": to the dealer" if value == "referred" else "")
    return value if what == "note" else f"{value} mm"


def as_kept(what, value):
    """A value as the record says it."""
    return f"{value} mm" if value and what in ("found", "left") else value
