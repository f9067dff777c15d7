"""The pages of telematics: what a manager sees and does there."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.urls import reverse

from fixtures.telematics.server import Provider, Unit
from fleet.models import TelematicsSource, TelematicsUnit
from fleet.tasks import look_for_telematics, read_telematics
from fleet.telematics import credentials, poll
from tests.factories import TelematicsSourceFactory, TelematicsUnitFactory

pytestmark = pytest.mark.django_db
AT = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
ENTERED = {
    "name": "Feed",
    "url": "https://feed.example/Fleet/1",
    "login": "basic",
    "username": "alder",
    "secret": "gate-42",
    "every_minutes": "30",
    "silent_days": "7",
    "active": "on",
}


@pytest.fixture
def source(farm):
    return TelematicsSourceFactory(organisation=farm.organisation, name="Feed")


def page(farm, name, /, *args, role="manager", **data):
    client, address = farm.client(role), reverse(name, args=args)
    answer = client.post(address, data) if data else client.get(address)
    return answer, answer.content.decode()


def test_a_source_is_entered_and_asked_for(farm, django_capture_on_commit_callbacks, task_queue):
    with django_capture_on_commit_callbacks(execute=True):
        answer, _ = page(farm, "telematics-new", **ENTERED)
    with farm.scope():
        source = TelematicsSource.objects.get()
    assert answer.url == reverse("telematics-source", args=[source.pk])
    assert (source.every_minutes, credentials.unlock(source.secret)) == (30, "gate-42")
    assert task_queue.get(timeout=5).headers["task"] == read_telematics.name


def test_what_is_wrong_is_said_at_its_field_and_the_secret_is_never_shown(farm):
    answer, seen = page(farm, "telematics-new", **ENTERED | {"url": "ftp://feed.example/"})
    assert answer.status_code == 422
    assert "must begin with https://" in seen
    assert "gate-42" not in seen


def test_the_edit_page_keeps_the_secret_to_itself(farm, source):
    with farm.scope():
        TelematicsSource.objects.update(login="basic", username="alder", secret=credentials.lock("gate-42"))
    _, seen = page(farm, "telematics-edit", source.pk)
    assert "Leave it empty to keep the one that is stored." in seen
    assert "gate-42" not in seen
    answer, _ = page(farm, "telematics-edit", source.pk, **ENTERED | {"secret": "", "name": "Other"})
    assert answer.status_code == 302
    with farm.scope():
        kept = TelematicsSource.objects.get()
    assert (kept.name, credentials.unlock(kept.secret)) == ("Other", "gate-42")


def test_a_failing_source_says_why_when_it_was_good_and_when_it_is_tried_again(farm, source):
    with farm.scope():
        TelematicsSource.objects.update(
            failures=3,
            error="Only half a document came.",
            error_at=AT,
            good_at=AT.replace(hour=3),
            next_try_at=AT.replace(hour=7),
            outcome="1 page, 4 units.",
        )
    for name, args in (("telematics", []), ("telematics-source", [source.pk])):
        _, seen = page(farm, name, *args)
        for words in ("failing", "Only half a document came.", "04:00", "08:00"):  # Madrid is an hour ahead
            assert words in seen, name
    assert "3 times in a row" in seen
    assert "Nothing was taken from that snapshot." in seen


def test_units_that_wait_are_shown_first_and_can_be_tied_or_ignored(farm, source):
    machine = farm.machine(tag="T-07")
    waits = TelematicsUnitFactory(
        source=source, serial="ODD-1", hours="12.5", hours_at="2026-03-02T05:41:00Z"
    )
    aside = TelematicsUnitFactory(source=source, serial="ODD-2")
    _, seen = page(farm, "telematics-source", source.pk)
    assert "ODD-1" in seen
    assert "2 waiting" in seen
    answer, _ = page(farm, "telematics-unit", waits.pk, decision="tie", machine=machine.pk)
    assert answer.url == reverse("telematics-source", args=[source.pk])
    page(farm, "telematics-unit", aside.pk, decision="ignore")
    with farm.scope():
        assert machine.readings.get().shows == 12.5
        assert TelematicsUnit.objects.get(pk=aside.pk).ignored
        assert not TelematicsUnit.objects.waiting().exists()
    _, seen = page(farm, "telematics-source", source.pk)
    assert "ODD-1" in seen
    assert "linked by Person" in seen


def test_tying_without_a_machine_asks_for_it(farm, source):
    waits = TelematicsUnitFactory(source=source)
    answer, seen = page(farm, "telematics-unit", waits.pk, decision="tie")
    assert answer.status_code == 422
    assert "Choose a machine." in seen


def test_the_machines_page_shows_where_it_was_seen_and_its_fuel(farm, source):
    machine = farm.machine(pin="1XMT100XABC000123")
    TelematicsUnitFactory(
        source=source,
        machine=machine,
        latitude="41.6611",
        longitude="-93.7442",
        location_at=AT,
        fuel_percent=62,
        fuel_at=AT,
    )
    _, seen = page(farm, "machine", machine.pk, role="technician")
    assert 'href="geo:41.6611,-93.7442"' in seen
    assert "62&nbsp;%" in seen
    assert "07:00, Feed" in seen  # Madrid
    assert "1XMT100XABC000123" in seen


def test_read_now_makes_it_due_and_the_task_reads_it(farm, source, settings, task_queue):
    machine = farm.machine(serial="K-1")
    told = [Unit(serial="K-1", hours="104.5", hours_at="2026-03-02T05:41:00Z")]
    with Provider(lambda: told) as provider, farm.scope():
        TelematicsSource.objects.update(url=provider.address, next_try_at=datetime(2100, 1, 1, tzinfo=UTC))
        own = {"organisation_id": farm.organisation.pk, "source_id": source.pk}
        assert read_telematics(**own) is False
        answer = farm.client("owner").post(reverse("telematics-read", args=[source.pk]))
        assert answer.status_code == 302
        assert read_telematics(**own) is True
        assert machine.readings.count() == 1
        assert read_telematics(**own) is False


def test_the_look_queues_what_is_due_in_every_organisation(farm, stranger, task_queue):
    soon, late = datetime(2026, 3, 1, tzinfo=UTC), datetime(2100, 1, 1, tzinfo=UTC)
    due = [
        TelematicsSourceFactory(organisation=house.organisation, next_try_at=soon)
        for house in (farm, stranger)
    ]
    TelematicsSourceFactory(organisation=farm.organisation, next_try_at=late)
    TelematicsSourceFactory(organisation=farm.organisation, next_try_at=soon, active=False)
    assert look_for_telematics() == 2
    queued = [task_queue.get(timeout=5) for _ in due]
    assert {message.payload[1]["source_id"] for message in queued} == {each.pk for each in due}


def test_a_source_that_is_switched_off_is_not_asked(farm, source):
    with farm.scope():
        TelematicsSource.objects.update(active=False)
    answer = farm.client("owner").post(reverse("telematics-read", args=[source.pk]), follow=True)
    assert "It is switched off. Switch it on first." in answer.content.decode()


def test_a_pin_is_entered_with_the_machine_and_belongs_to_one(farm):
    machines = [farm.machine() for _ in range(2)]
    facts = {"type": machines[0].type_id, "yard": farm.yard.pk, "in_service_on": "2026-01-01"}
    facts |= {"condition": "normal", "tag": "A-1", "pin": " 1xmt100xabc000123"}
    answer, _ = page(farm, "machine-edit", machines[0].pk, **facts)
    assert answer.status_code == 302
    machines[0].refresh_from_db()
    assert machines[0].pin == "1XMT100XABC000123"
    facts |= {"type": machines[1].type_id, "tag": "A-2"}
    _, seen = page(farm, "machine-edit", machines[1].pk, **facts)
    assert "A-1 has this identification number" in seen
    _, seen = page(farm, "machine-edit", machines[1].pk, **facts | {"pin": "TOO-SHORT"})
    assert "A PIN has 17 letters and figures" in seen


@pytest.fixture
def asked(farm, source):
    """A unit with T-07's tag and another serial number, which asks."""
    machine = farm.machine(tag="T-07", serial="K-1")
    told = [Unit(serial="Z-9", equipment_id="t07", hours="104.5", hours_at="2026-03-02T05:41:00Z")]
    with Provider(lambda: told) as provider, farm.scope():
        TelematicsSource.objects.update(url=provider.address)
        assert poll.read(source=source, forced=True)
        return TelematicsUnit.objects.select_related("proposed").get(proposed=machine)


def test_a_question_shows_both_sides_and_one_button_answers_it(farm, source, asked):
    _, seen = page(farm, "telematics-source", source.pk)
    assert "Is this T-07?" in seen
    _, seen = page(farm, "telematics-unit", asked.pk)
    for words in (
        "Is the unit t07 the machine T-07?",
        "Z-9",
        "K-1",
        "differs",
        "agrees",
        "Yes, it is T-07",
        "104.5",
    ):
        assert words in seen
    assert 'data-label="Record of T-07"' in seen  # on a phone each value stands beside its name
    answer, _ = page(farm, "telematics-unit", asked.pk, decision="tie", machine=asked.proposed_id)
    assert answer.status_code == 302
    with farm.scope():
        assert asked.proposed.readings.get().shows == Decimal("104.5")
    _, seen = page(farm, "telematics-unit", asked.pk)
    assert "Yes, it is" not in seen


def test_a_question_in_german(farm, asked):
    farm.manager.user.language = "de"
    farm.manager.user.save()
    _, seen = page(farm, "telematics-unit", asked.pk)
    for words in (
        "Ist die Einheit t07 die Maschine T-07?",
        "Seriennummer",
        "anders",
        "Ja, es ist T-07",
        "Eintrag von T-07",
    ):
        assert words in seen


def test_today_names_the_question_for_who_may_answer_it(farm, asked):
    _, seen = page(farm, "today")
    assert "Is this T-07?" in seen
    assert reverse("telematics-unit", args=[asked.pk]) in seen
    _, seen = page(farm, "today", role="technician")
    assert "Is this T-07?" not in seen


def test_silence_stands_on_today(farm, source):
    machine, other = farm.machine(tag="T-07"), farm.machine(tag="T-08")
    with farm.scope():
        TelematicsSource.objects.update(good_at=AT)
    long_ago = datetime(2026, 1, 5, 6, tzinfo=UTC)
    TelematicsUnitFactory(source=source, machine=machine, seen_at=AT, reported_at=long_ago)
    TelematicsUnitFactory(source=source, machine=other, seen_at=long_ago, reported_at=AT)
    _, seen = page(farm, "today")
    assert "No report since" in seen
    assert "Gone from the snapshot of Feed" in seen
    _, seen = page(farm, "telematics-source", source.pk)
    assert "2 silent" in seen
    answer = farm.client("manager").get(reverse("telematics-source", args=[source.pk]), {"show": "silent"})
    assert "Gone from the snapshot of Feed" in answer.content.decode()


def test_a_source_that_cannot_be_read_stands_on_today(farm, source):
    with farm.scope():
        TelematicsSource.objects.update(failures=3, good_at=AT, error="The login has ended.")
    _, seen = page(farm, "today")
    assert "The login has ended." in seen
    assert "Not read since" in seen
    with farm.scope():
        TelematicsSource.objects.update(active=False)
    _, seen = page(farm, "today")
    assert "The login has ended." not in seen


def test_how_long_a_silence_may_be_is_entered_with_the_source(farm):
    answer, _ = page(farm, "telematics-new", **ENTERED | {"silent_days": "0"})
    assert answer.status_code == 422
    page(farm, "telematics-new", **ENTERED | {"silent_days": "30"})
    with farm.scope():
        assert TelematicsSource.objects.get().silent_days == 30


class TestOverTheApi:
    def test_a_question_is_listed_with_both_sides_and_answered(self, farm, asked):
        client = farm.api("manager")
        (told,) = client.get("/api/v1/telematics/units", {"state": "asking"}).json()["results"]
        assert told["question"].startswith("Is this T-07?")
        assert (told["proposed"], told["machine"], told["hours"]) == (asked.proposed_id, None, "104.5")
        sides = {side["fact"]: side for side in told["sides"]}
        assert sides["serial"] == {
            "fact": "serial",
            "sent": "Z-9",
            "sent_before": "",
            "recorded": "K-1",
            "verdict": "differs",
        }
        address = f"/api/v1/telematics/units/{asked.pk}"
        answer = client.post(f"{address}/tie", {"machine": asked.proposed_id}, format="json").json()
        assert (answer["machine"], answer["question"], answer["receipt"]) == (
            asked.proposed_id,
            "",
            "counted",
        )
        assert client.get(address).json()["matched_by"] == "person"
        assert client.post(f"{address}/ignore").json()["ignored"] is True
        assert client.post(f"{address}/unlink").json()["ignored"] is False

    def test_who_may_not_manage_the_fleet_sees_none(self, farm, asked):
        assert farm.api("technician").get("/api/v1/telematics/units").status_code == 403
        answer = farm.api("technician").post(f"/api/v1/telematics/units/{asked.pk}/ignore")
        assert answer.status_code == 403

    def test_an_unknown_machine_is_refused_at_its_field(self, farm, asked):
        answer = farm.api("manager").post(
            f"/api/v1/telematics/units/{asked.pk}/tie", {"machine": 987654}, format="json"
        )
        assert answer.status_code == 400
        assert "machine" in str(answer.json())
