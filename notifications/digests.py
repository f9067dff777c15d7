"""One digest a day for each member who wants one: only what they haven't been told yet."""

from datetime import datetime
from itertools import groupby
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone

from fleet.models import Member, Organisation
from notifications import outbox
from notifications.facts import IN_SHORT, MORE, Fact, facts_by_member, link
from notifications.models import DigestRun, Message, ToldFact
from servicing.models.program import INVENTED_FIGURES

MOST_LINES = 40  # under one heading; who reads further opens the page


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
    message = outbox.post(
        member=member,
        subject=_subject(organisation, facts),
        body=_body(member, organisation, facts),
        now=now,
    )
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


def _subject(organisation: Organisation, facts: list[Fact]) -> str:
    counts = [_in_short(heading, len(list(group))) for heading, group in _by_heading(facts)]
    return f"{organisation.name}: {'; '.join(counts)}"


def _in_short(heading: str, number: int) -> str:
    one, several = IN_SHORT[heading]
    return f"{number} {one if number == 1 else several}"


def _body(member: Member, organisation: Organisation, facts: list[Fact]) -> str:
    sections = [_section(heading, list(group)) for heading, group in _by_heading(facts)]
    return "\n\n".join(
        [
            f"Good morning {member.user.first_name or member.user.username},",
            f"new at {organisation.name} since we last wrote:",
            *([INVENTED_FIGURES] if any(fact.invented for fact in facts) else []),
            *sections,
            f"Everything for today: {link('today')}",
            "Each of these is told once, until it changes. The maker's manual, local rules and licensed "
            "practice come before anything said here.",
        ]
    )


def _section(heading: str, facts: list[Fact]) -> str:
    lines = [f"- {fact.text}" for fact in facts[:MOST_LINES]]
    if len(facts) > MOST_LINES:
        lines.append(f"and {len(facts) - MOST_LINES} more: {link(MORE.get(heading, 'ahead'))}")
    return "\n".join([heading, *lines])


def _by_heading(facts: list[Fact]) -> "groupby[str, Fact]":
    return groupby(facts, key=lambda fact: fact.heading)
