"""One digest a day for each member who wants one: only what they haven't been told yet."""

from datetime import datetime
from itertools import groupby
from typing import cast
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone

from fleet.core.languages import spoken_to
from fleet.models import Machine, Member, Organisation
from notifications import outbox
from notifications.facts import LIKELY, OVERDUE, Fact, facts_by_member
from notifications.models import DigestRun, Message, ToldFact
from notifications.words import written
from servicing.models import Duty

MOST_LINES = 40  # under one heading; who reads further opens the page
MOST_TASKS = 6  # of one machine


def write_digests(*, organisation: Organisation, now: datetime | None = None) -> list[Message]:
    """Write today's digests of an organisation into the outbox, once its digest hour has come.

    Returns the messages written: none before the hour, none the second time on one day. A member to whom
    there is nothing new to tell gets no message. Needs the organisation's scope.
    """
    now = now or timezone.now()
    local = now.astimezone(ZoneInfo(organisation.zone))
    if local.hour < organisation.digest_hour:
        return []
    with transaction.atomic():
        if not DigestRun.claim(organisation, local.date()):
            return []
        members = Member.objects.active().filter(mail=True).exclude(user__email="").select_related("user")
        facts = facts_by_member(organisation, members, now)
        told = set(ToldFact.objects.values_list("member_id", "key", "fingerprint"))
        messages = []
        for member, concerning in facts.items():
            fresh = [fact for fact in concerning if (member.pk, fact.key, fact.fingerprint) not in told]
            if fresh:
                messages.append(_write(member, organisation, fresh, now))
        return messages


def _write(member: Member, organisation: Organisation, facts: list[Fact], now: datetime) -> Message:
    with spoken_to(member.user):
        words = written(
            "digest",
            member=member,
            organisation=organisation,
            sections=[
                _section(kind, list(group)) for kind, group in groupby(facts, key=lambda fact: fact.kind)
            ],
            invented=any(fact.invented for fact in facts),
        )
    message = outbox.post(member=member, now=now, **words)
    ToldFact.objects.bulk_create(
        ToldFact(
            organisation=organisation,
            member=member,
            key=fact.key,
            fingerprint=fact.fingerprint,
            message=message,
        )
        for fact in facts
    )
    return message


def _section(kind: str, facts: list[Fact]) -> dict[str, object]:
    lines = _by_machine(facts) if kind in (OVERDUE, LIKELY) else [fact.about for fact in facts]
    return {
        "kind": kind,
        "number": len(facts),
        "lines": len(lines),
        "shown": lines[:MOST_LINES],
        "more": max(len(lines) - MOST_LINES, 0),
    }


def _by_machine(facts: list[Fact]) -> list[dict[str, object]]:
    """A line for each machine, in the order in which they first come."""
    machines: dict[Machine, list[object]] = {}
    for fact in facts:
        machines.setdefault(cast(Duty, fact.about).machine, []).append(fact.about)
    return [
        {"machine": machine, "tasks": tasks[:MOST_TASKS], "more": max(len(tasks) - MOST_TASKS, 0)}
        for machine, tasks in machines.items()
    ]
