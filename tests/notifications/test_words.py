"""Every kind of mail, word by word. Names stand as they were typed: a mail is plain text."""

from datetime import UTC, date, datetime
from decimal import Decimal as D

import pytest
import time_machine
from django.test import Client

from fleet.models import Machine, Member, Newcomer, Organisation
from notifications import links
from notifications.digests import write_digests
from notifications.models import Message
from servicing.models.program import INVENTED_FIGURES
from tests.factories import (
    DutyFactory,
    LineFactory,
    MachineFactory,
    MachineTypeFactory,
    TechnicianFactory,
    WorkOrderFactory,
)

EVENING = datetime(2026, 3, 1, 20, tzinfo=UTC)
MORNING = datetime(2026, 3, 2, 7, tzinfo=UTC)  # eight in Madrid
ENDING = (
    "We won't repeat these unless something changes. The maker's manual, local rules and licensed practice "
    "come first.\nStop these mails: https://hourmark.example.org/account/"
)


@pytest.fixture
def named(in_farm):
    """The farm, named so that an escaped letter would be seen."""
    house, people = in_farm.organisation, (in_farm.owner, in_farm.manager, in_farm.technician)
    Organisation.objects.filter(pk=house.pk).update(name="Smith & Sons' <Farm>")
    house.refresh_from_db()
    for person, name in zip(people, ("Orla O'Neill", "Bea", ""), strict=True):
        type(person.user).objects.filter(pk=person.user_id).update(first_name=name, last_name="")
        person.refresh_from_db()
    return in_farm


@pytest.fixture
def machine(named):
    kind = MachineTypeFactory(organisation=named.organisation, maker="Quern & Co", model="<45>")
    return MachineFactory(organisation=named.organisation, tag="T-1", type=kind)


@pytest.fixture
def digest(named, settings):
    """Write the digests of the morning; return the words of one member's."""
    settings.SITE_URL = "https://hourmark.example.org"

    def written(member):
        told = write_digests(organisation=named.organisation, now=MORNING)
        return next((each.subject, each.body) for each in told if each.member == member)

    return written


def reached(machine, hours):
    Machine.objects.filter(pk=machine.pk).update(hours=D(hours))


def test_an_owner_hears_of_what_is_overdue_and_of_stopped_sign_ins(named, machine, digest):
    other = MachineFactory(organisation=named.organisation, tag="T-2", type=machine.type)
    DutyFactory(machine=machine, task__title="Engine oil & filter", mark_on=date(2026, 2, 9))
    DutyFactory(
        machine=other,
        mark_hours=None,
        mark_on=date(2026, 3, 1),
        task__title="Belt",
        forward_reason="it wears",
        forward_hours=100,
        rule_hours=150,
    )
    reached(machine, "1204.5")
    technician = named.technician
    with time_machine.travel(EVENING, tick=False):
        for _ in range(5):
            Client().post(
                "/sign-in/", {"username": technician.user.username, "password": "x"}, REMOTE_ADDR="192.0.2.1"
            )
    subject, body = digest(named.owner)
    assert subject == "2 tasks overdue on 2 machines; 1 sign-in stopped"
    assert body == (
        "Hello Orla O'Neill,\n\n"
        "New at Smith & Sons' <Farm> since we last wrote:\n\n"
        "Overdue\n"
        f"- T-1 ({machine.type}, 1\u202f204.5\u00a0h now): Engine oil & filter, due at 100.0\u00a0h "
        "or on 9 Feb 2026\n"
        f"  https://hourmark.example.org/machines/{machine.pk}/\n"
        f"- T-2 ({machine.type}, 0.0\u00a0h now): Belt, due on 1 Mar 2026 (earlier: it wears)\n"
        f"  https://hourmark.example.org/machines/{other.pk}/\n\n"
        "Sign-ins stopped after wrong passwords\n"
        f"- {technician}, 1 time in two days, last on Sun 1 Mar at 21:00 from 192.0.2.1\n"
        "  https://hourmark.example.org/people/refused/\n\n"
        "Everything for today: https://hourmark.example.org/\n\n" + ENDING
    )


def test_one_task_is_said_in_the_singular(named, machine, digest):
    DutyFactory(machine=machine)
    reached(machine, 100)
    assert digest(named.owner)[0] == "1 task overdue on 1 machine"


def test_a_manager_hears_of_what_is_likely_by_invented_figures(named, machine, digest):
    first = DutyFactory(machine=machine, task__title="Engine oil")
    first.task.version.invented = True
    first.task.version.save()
    task = "Engine oil, likely Tue 10 Mar, due at 100.0\u00a0h"
    for _ in range(6):
        DutyFactory(machine=machine, task__title="Engine oil")
    others = [
        MachineFactory(organisation=named.organisation, tag=f"U-{number}", type=machine.type)
        for number in range(100, 140)
    ]
    for each in others:
        DutyFactory(machine=each, task__title="Engine oil")
    subject, body = digest(named.manager)
    assert subject == "47 tasks likely due soon on 41 machines"
    assert body == (
        "Hello Bea,\n\n"
        "New at Smith & Sons' <Farm> since we last wrote:\n\n"
        f"{INVENTED_FIGURES}\n\n"
        "Likely due soon, on no order yet\n"
        f"- T-1 ({machine.type}, 0.0\u00a0h now): {'; '.join([task] * 6)}; and 1 more\n"
        f"  https://hourmark.example.org/machines/{machine.pk}/\n"
        + "".join(
            f"- {each.tag} ({machine.type}, 0.0\u00a0h now): {task}\n"
            f"  https://hourmark.example.org/machines/{each.pk}/\n"
            for each in others[:39]
        )
        + "and 1 more: https://hourmark.example.org/ahead/\n\n"
        "Everything for today: https://hourmark.example.org/\n\n" + ENDING
    )


def test_a_technician_hears_of_orders(named, machine, digest):
    technician = TechnicianFactory(member=named.technician)
    first = WorkOrderFactory(machine=machine, technician=technician, planned_for=date(2026, 3, 4))
    second = WorkOrderFactory(machine=machine, technician=technician)
    LineFactory.create_batch(2, order=first)
    LineFactory(order=second)
    subject, body = digest(named.technician)
    start = f"Hello {named.technician.user.username},\n\nNew at Smith & Sons' <Farm> since we last wrote"
    lines = {
        f"- Order {first.number}, T-1 ({machine.type}): planned, Wed 4 Mar, 2 lines\n"
        f"  https://hourmark.example.org/orders/{first.pk}/",
        f"- Order {second.number}, T-1 ({machine.type}): planned, no day set, 1 line\n"
        f"  https://hourmark.example.org/orders/{second.pk}/",
    }
    assert subject == "2 work orders for you"
    assert {body} <= {
        f"{start}:\n\nYour work orders\n{one}\n{other}\n\n"
        f"Everything for today: https://hourmark.example.org/\n\n{ENDING}"
        for one in lines
        for other in lines - {one}
    }


def test_who_is_asked_in_gets_a_link(named):
    person = Newcomer.objects.create(
        organisation=named.organisation, name="Niko & Co", email="niko@example.org", role=Member.Role.COUNTER
    )
    links.post(person, named.owner)
    message = Message.objects.get()
    assert message.subject == "Smith & Sons' <Farm>: your invitation"
    assert message.body == (
        "Hello Niko & Co,\n\n"
        f"{named.owner} has invited you to Smith & Sons' <Farm> as hire desk.\n"
        "To join, follow this link within three days. It works once:\n\n"
        "(The link is here in the mail. It is kept nowhere else.)\n\n"
        "If you don't know Smith & Sons' <Farm>, ignore this mail."
    )


def test_who_needs_a_new_password_gets_a_link(named):
    links.post(named.manager, named.owner)
    message = Message.objects.get()
    assert message.subject == "Smith & Sons' <Farm>: choose a new password"
    assert message.body == (
        f"Hello {named.manager},\n\n"
        f"{named.owner} of Smith & Sons' <Farm> sends you this link to choose a new password.\n"
        "Follow it within three days. It works once:\n\n"
        "(The link is here in the mail. It is kept nowhere else.)\n\n"
        "Until then your old password works. If you need no new one, ignore this mail."
    )
