"""A program file on its way: kept at once, read by a worker, never half loaded, given up where it kills."""

from datetime import timedelta

import pytest
from celery.exceptions import SoftTimeLimitExceeded
from django.core.files.uploadedfile import SimpleUploadedFile

from fleet.core.errors import NotAllowed, WrongState
from servicing import tasks
from servicing.models import ProgramVersion, SentProgram, Task
from servicing.programs import uploads
from tests.servicing.programs.test_load import WRITTEN


def send(house, role="manager", written=WRITTEN):
    upload = SimpleUploadedFile("pump.yaml", written.encode())
    return uploads.receive(upload=upload, member=getattr(house, role))


def state_of(sent):
    sent.refresh_from_db()
    return sent.state, sent.faults


@pytest.mark.security
def test_sending_reads_nothing(in_farm, monkeypatch):
    monkeypatch.setattr("servicing.programs.uploads.parse", lambda written: 1 / 0)
    sent = send(in_farm)
    assert (sent.state, sent.tries, bytes(sent.written)) == ("reading", 0, WRITTEN.encode())
    assert not ProgramVersion.objects.exists()


def test_it_becomes_a_draft_once_however_often_it_is_read(in_farm):
    sent = send(in_farm)
    for _ in range(2):
        tasks.read_program(sent_id=sent.pk, organisation_id=in_farm.organisation.pk)
        assert state_of(sent) == ("loaded", [])
        assert (sent.version, bytes(sent.written)) == (ProgramVersion.objects.get(), b"")
    assert Task.objects.count() == 2


@pytest.mark.security
def test_one_that_kills_its_worker_is_given_up_after_three_tries(in_farm, monkeypatch):
    sent = send(in_farm)

    def killed(written):
        raise SystemExit  # nothing catches it, as nothing catches a signal 9

    with monkeypatch.context() as patch:
        patch.setattr("servicing.programs.uploads.parse", killed)
        for _ in range(3):
            with pytest.raises(SystemExit):
                uploads.read(sent.pk)
            sent.refresh_from_db()
            assert uploads.sweep(sent.heard_at + timedelta(minutes=2)) == 0
            assert uploads.sweep(sent.heard_at + timedelta(minutes=2, seconds=1)) == 1
        uploads.read(sent.pk)
    assert state_of(sent) == ("refused", [uploads.DIED])
    assert uploads.sweep(sent.heard_at + 2 * SentProgram.PATIENCE) == 0
    uploads.again(sent=sent, member=in_farm.manager)
    uploads.read(sent.pk)
    assert state_of(sent) == ("loaded", [])


@pytest.mark.parametrize(
    ("fault", "said"),
    [(SoftTimeLimitExceeded(), uploads.TOO_LONG), (MemoryError(), uploads.FAULT)],
)
def test_a_fault_in_the_middle_leaves_nothing_and_says_so(in_farm, monkeypatch, fault, said):
    def breaks(*args, **kwargs):
        raise fault

    monkeypatch.setattr("servicing.programs.load.store", breaks)
    sent = send(in_farm)
    uploads.read(sent.pk)
    assert state_of(sent) == ("refused", [said])
    assert not ProgramVersion.objects.exists()


def test_it_takes_the_right_the_organisation_and_a_refusal(in_farm, stranger):
    for role in ("technician", "counter"):
        with pytest.raises(NotAllowed):
            send(in_farm, role)
    sent = send(in_farm)
    with pytest.raises(WrongState, match="being read already"):
        uploads.again(sent=sent, member=in_farm.manager)
    for member in (in_farm.technician, stranger.owner):
        with pytest.raises(NotAllowed):
            uploads.again(sent=sent, member=member)


def test_what_is_wrong_is_said_in_the_senders_language(in_farm):
    in_farm.manager.user.language = "de"
    in_farm.manager.user.save()
    sent = send(in_farm, written=WRITTEN.replace("skill: technician", "skill: 7", 1))
    uploads.read(sent.pk)
    state, faults = state_of(sent)
    assert state == "refused"
    assert any(
        "skill ist 7; es muss eines davon sein: operator, technician, licensed" in each for each in faults
    )
    assert all(each.startswith("Zeile ") for each in faults)
