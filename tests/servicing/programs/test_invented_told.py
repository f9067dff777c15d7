"""Wherever a due mark or a figure rests on invented figures, it is said; where none does, it isn't."""

import csv
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.urls import reverse

from notifications import digests
from servicing.duties import machine_cards
from servicing.gate import answers
from servicing.models import ProgramVersion
from servicing.models.program import INVENTED_FIGURES
from tests.factories import DutyFactory, IntervalFactory, LineFactory, TechnicianFactory

NOW = datetime(2026, 5, 4, 10, tzinfo=UTC)
SAID = INVENTED_FIGURES.replace("'", "&#x27;")
PAGES = ("today", "ahead", "gate", "ledger")
pytestmark = pytest.mark.time_machine(NOW, tick=False)


@pytest.fixture
def duty(machine):
    soon = NOW.date() + timedelta(days=1)
    duty = DutyFactory(
        machine=machine, mark_hours=Decimal(1010), early=soon, likely=soon, late=soon, projected_at=NOW
    )
    IntervalFactory(task=duty.task)
    return duty


def invent(farm):
    with farm.scope():
        ProgramVersion.objects.update(invented=True)


def told(farm, name, *args):
    page = farm.client("owner").get(reverse(name, args=args))
    assert page.status_code == 200
    return page.content.decode().count(SAID)


@pytest.mark.parametrize("hours", [1000, 1020], ids=["likely", "overdue"])
def test_pages_say_it_once_in_the_head(farm, machine, duty, hours):
    machine.hours = hours
    machine.save()
    pages = [(name,) for name in PAGES] + [("gate-out", machine.pk)]
    assert [told(farm, *page) for page in pages] == [0] * 5
    invent(farm)
    assert [told(farm, *page) for page in pages] == [1] * 5


def test_a_page_without_work_by_them_is_quiet(farm, machine, duty):
    invent(farm)
    far = NOW.date() + timedelta(days=900)
    type(duty)._base_manager.update(early=far, likely=far, late=far)
    assert [told(farm, name) for name in ("today", "ahead", "gate")] == [0, 0, 0]
    assert told(farm, "ledger") == 1  # what is expected rests on them all the same


def test_orders_on_today_say_it_too(farm, machine, duty):
    type(duty)._base_manager.update(likely=None, early=None, late=None)
    with farm.scope():
        LineFactory(
            organisation=farm.organisation,
            task=duty.task,
            duty=None,
            order__machine=machine,
            order__planned_for=NOW.date(),
        )
    assert told(farm, "today") == 0
    invent(farm)
    assert told(farm, "today") == 1


def test_the_gates_answer_rests_on_them_only_where_a_reason_does(farm, machine, duty):
    idle = farm.machine(for_hire=True)
    invent(farm)
    with farm.scope():
        found = answers([machine, idle], at=NOW)
    assert found[machine.pk].reasons
    assert (found[machine.pk].invented, found[idle.pk].invented) == (True, False)


def test_the_month_as_a_file_says_it_in_each_line(farm, machine, duty):
    farm.machine(tag="T-99")
    invent(farm)
    answer = farm.client("owner").get(reverse("ledger"), {"format": "csv"})
    rows = list(csv.DictReader(StringIO(answer.getvalue().decode("utf-8-sig"))))
    by = {row["machine"]: row["with invented figures"] for row in rows}
    assert by == {"T-07": "yes", "T-99": "", "all machines": "yes"}


@pytest.mark.parametrize("hours", [1000, 1020], ids=["likely", "overdue"])
def test_mails_say_it_once(farm, machine, duty, hours):
    machine.hours = hours
    machine.save()
    with farm.scope():
        TechnicianFactory(member=farm.technician)
    invent(farm)
    with farm.scope():
        messages = digests.write_digests(organisation=farm.organisation, now=NOW)
    assert messages
    assert [message.body.count(INVENTED_FIGURES) for message in messages] == [1] * len(messages)


def test_mails_are_quiet_without_them(farm, machine, duty):
    with farm.scope():
        (message,) = digests.write_digests(organisation=farm.organisation, now=NOW)
    assert INVENTED_FIGURES not in message.body


@pytest.mark.parametrize("hours", [1000, 1020], ids=["next", "overdue"])
def test_the_page_behind_a_sticker_says_it_of_what_is_due(farm, machine, duty, hours):
    machine.hours = hours
    machine.save()
    with farm.scope():
        assert INVENTED_FIGURES not in machine_cards.cards(farm.technician)[0].due
    invent(farm)
    with farm.scope():
        (card,) = machine_cards.cards(farm.technician)
    assert card.due.endswith(f". {INVENTED_FIGURES}")
    assert card.overdue == (hours > 1010)
