"""Mails in the language and the way of writing of the one who gets them, whoever has them written."""

from datetime import UTC, date, datetime
from decimal import Decimal as D

import pytest
from django.utils import translation

from fleet.models import Machine, Member, Newcomer, Organisation
from fleet.usage.figures import COMMA
from notifications import facts, links, one_time_links, outbox
from notifications.digests import write_digests
from notifications.models import Message
from tests.factories import (
    DutyFactory,
    LineFactory,
    MachineFactory,
    MemberFactory,
    TechnicianFactory,
    WorkOrderFactory,
)

MORNING = datetime(2026, 3, 2, 7, tzinfo=UTC)  # eight in Madrid
TOMORROW = datetime(2026, 3, 3, 7, tzinfo=UTC)
IN_ENGLISH = "(The link is here in the mail. It is kept nowhere else.)"
IN_GERMAN = "(Hier steht in der E-Mail der Link. Sonst wird er nirgends aufbewahrt.)"


def speaks(member, language, **writing):
    type(member.user).objects.filter(pk=member.user_id).update(language=language, **writing)
    member.refresh_from_db()
    return member


@pytest.fixture
def german(in_farm):
    """An owner who chose German."""
    return speaks(in_farm.owner, "de")


@pytest.fixture
def english(in_farm):
    """A second owner, who chose English."""
    return speaks(MemberFactory(organisation=in_farm.organisation, role="owner"), "en-gb")


@pytest.fixture
def overdue(in_farm):
    """A machine with a task that is due by its hours and by the calendar."""
    machine = MachineFactory(organisation=in_farm.organisation, tag="T-1")
    DutyFactory(machine=machine, task__title="Engine oil", mark_on=date(2026, 2, 9))
    Machine.objects.filter(pk=machine.pk).update(hours=D("1204.5"))
    return machine


def digests(farm, now=MORNING):
    return {each.member: each for each in write_digests(organisation=farm.organisation, now=now)}


def test_each_owner_hears_of_it_in_their_own_language(in_farm, german, english, overdue):
    with translation.override("de"):  # whatever was spoken before
        told = digests(in_farm)
    assert told[german].subject == "1 Arbeit überfällig an 1 Maschine"
    assert f"Guten Tag {german.user.first_name},\n\nNeu bei Alder Farm seit" in told[german].body
    assert "jetzt 1\u202f204,5\u00a0h): Engine oil, fällig bei 100,0\u00a0h oder am " in told[german].body
    assert "\nDiese E-Mails abbestellen: " in told[german].body
    assert told[english].subject == "1 task overdue on 1 machine"
    assert f"Hello {english.user.first_name},\n\nNew at Alder Farm since" in told[english].body
    assert (
        "1\u202f204.5\u00a0h now): Engine oil, due at 100.0\u00a0h or on 9 Feb 2026\n" in told[english].body
    )
    assert "\nStop these mails: " in told[english].body


def test_days_and_figures_are_written_as_each_chose(in_farm, german, english, overdue):
    speaks(german, "de", days_written="ISO")
    speaks(english, "en-gb", decimal_mark=COMMA, days_written="month first")
    told = digests(in_farm)
    assert "fällig bei 100,0\u00a0h oder am 2026-02-09\n" in told[german].body
    assert "due at 100,0\u00a0h or on Feb 9, 2026\n" in told[english].body


def test_an_order_and_what_is_likely_are_told_in_german(in_farm):
    for member in (in_farm.technician, in_farm.manager):
        speaks(member, "de")
    machine = MachineFactory(organisation=in_farm.organisation, tag="T-1")
    order = WorkOrderFactory(machine=machine, technician=TechnicianFactory(member=in_farm.technician))
    LineFactory.create_batch(2, order=order)
    other = MachineFactory(organisation=in_farm.organisation, tag="T-2")
    DutyFactory(machine=other, task__title="Belt")
    told = digests(in_farm)
    assert told[in_farm.technician].subject == "1 Arbeitsauftrag für Sie"
    assert (
        f"- Auftrag {order.number}, T-1 ({machine.type}): geplant, kein Tag festgelegt, 2 Positionen\n"
        in told[in_farm.technician].body
    )
    assert told[in_farm.manager].subject == "1 Arbeit voraussichtlich bald fällig an 1 Maschine"
    assert "Belt, voraussichtlich " in told[in_farm.manager].body


def test_a_fact_is_not_told_again_because_another_language_was_chosen(in_farm, german, overdue):
    assert list(digests(in_farm)) == [german]
    speaks(german, "en-gb")
    assert digests(in_farm, TOMORROW) == {}


def test_a_fact_is_the_same_in_every_language(in_farm, german, overdue):
    technician = TechnicianFactory(member=in_farm.technician)
    WorkOrderFactory(machine=overdue, technician=technician, planned_for=date(2026, 3, 4))
    members = list(Member.objects.active())
    found = []
    for language in ("en-gb", "de"):
        with translation.override(language):
            concerning = facts.facts_by_member(in_farm.organisation, members, MORNING)
        found.append([(fact.key, fact.fingerprint) for each in concerning.values() for fact in each])
    assert found[0] == found[1]
    assert found[0]


def test_a_german_gets_a_german_link_and_the_mail_has_it_where_the_line_stood(german, english, mailoutbox):
    links.post(german, english)
    message = Message.objects.get()
    assert message.subject == "Alder Farm: neues Passwort wählen"
    assert message.body == (
        f"Guten Tag {german},\n\n"
        f"{english} von Alder Farm schickt Ihnen diesen Link, damit Sie ein neues Passwort wählen können.\n"
        "Folgen Sie ihm binnen drei Tagen. Er gilt einmal:\n\n"
        f"{IN_GERMAN}\n\n"
        "Bis dahin gilt Ihr altes Passwort. Brauchen Sie kein neues, beachten Sie diese E-Mail nicht."
    )
    assert outbox.deliver(message_id=message.pk) == "sent"
    (mail,) = mailoutbox
    before, after = message.body.split(IN_GERMAN)
    assert mail.body.startswith(f"{before}http")
    assert "/welcome/" in mail.body
    assert mail.body.endswith(after)
    message.refresh_from_db()
    assert IN_GERMAN in message.body  # what is kept has no link


def test_an_english_colleague_gets_an_english_link_from_a_german(german, english):
    with translation.override("de"):
        links.post(english, german)
    assert f"Hello {english},\n" in Message.objects.get().body
    assert f"\n\n{IN_ENGLISH}\n\n" in Message.objects.get().body


@pytest.mark.parametrize(("installed", "line"), [("en-gb", IN_ENGLISH), ("de", IN_GERMAN)])
def test_who_is_asked_in_is_written_to_in_the_installations_language(
    in_farm, german, settings, installed, line
):
    settings.LANGUAGE_CODE = installed
    person = Newcomer.objects.create(
        organisation=in_farm.organisation, name="Niko", email="niko@example.org", role=Member.Role.COUNTER
    )
    with translation.override("de"):  # the owner's
        links.post(person, german)
    message = Message.objects.get()
    role = {"en-gb": "as hire desk.", "de": "mit der Rolle Vermietung."}
    assert role[installed] in message.body
    assert line in message.body
    assert "/join/" in one_time_links.body(message)
    assert line not in one_time_links.body(message)


@pytest.mark.parametrize("kept", [IN_ENGLISH, IN_GERMAN, "(Here was a line of an earlier version.)"])
def test_a_link_reaches_the_person_however_the_line_was_worded_when_it_was_stored(german, english, kept):
    links.post(german, english)
    message = Message.objects.get()
    message.body = f"Hello,\n\n{kept}\n\nGoodbye."
    with translation.override("de"):  # of whoever sends it
        sent = one_time_links.body(message)
    assert sent.count("/welcome/") == 1
    assert IN_ENGLISH not in sent
    assert IN_GERMAN not in sent


def test_a_text_without_a_link_is_left_alone(in_farm):
    body = f"Somebody wrote {IN_GERMAN}"
    assert one_time_links.body(Message(organisation=Organisation.objects.get(), body=body)) == body
