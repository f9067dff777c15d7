"""A program file is sent, read by a worker, and becomes a draft."""

from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from servicing import tasks
from servicing.models import ProgramVersion, SentProgram
from servicing.programs import drafts, uploads
from tests.servicing.programs.test_load import WRITTEN


def load(farm, client, written):
    """Send a program file and have a worker read it; return its page."""
    upload = SimpleUploadedFile("pump.yaml", written.encode())
    address = client.post(reverse("program-load"), {"file": upload})["Location"]
    sending = client.get(address).content.decode()
    assert "It will be read in a moment." in sending
    assert 'hx-trigger="every 1s"' in sending
    with farm.scope():
        tasks.read_program(
            sent_id=int(address.strip("/").rpartition("/")[2]), organisation_id=farm.organisation.pk
        )
    assert client.get(address, headers={"HX-Request": "true"})["HX-Refresh"] == "true"
    return client.get(address)


def test_a_yaml_file_becomes_a_draft_or_says_its_faults_by_line(farm):
    client = farm.client("manager")
    shown = load(farm, client, WRITTEN.replace("minutes: 20", "minutes: soon"))
    assert "line 18: tasks[0] oil: minutes must be a whole number" in shown.content.decode()
    kept = load(farm, client, WRITTEN)
    with farm.scope():
        version = ProgramVersion.objects.get()
        assert (version.state, version.tasks.count(), version.made_by) == ("draft", 2, farm.manager)
    assert kept.url == reverse("program-draft", args=[version.pk])
    again = load(farm, client, WRITTEN)
    assert "has a draft already" in again.content.decode()
    with farm.scope():
        drafts.discard(version=version)
    address = again.request["PATH_INFO"]
    assert client.post(address)["Location"] == address
    with farm.scope():
        uploads.read(SentProgram.objects.first().pk)
    assert "/programs/drafts/" in client.get(address)["Location"]
    assert "is loaded already" in client.post(address, follow=True).content.decode()


def test_no_file_and_one_too_large_are_told_at_once(farm):
    client, page = farm.client("manager"), reverse("program-load")
    assert client.post(page).status_code == 422
    large = client.post(page, {"file": SimpleUploadedFile("pump.yaml", b"a" * 300_000)})
    assert large.status_code == 422
    assert "pump.yaml is larger than 256 KB" in large.content.decode()
    with farm.scope():
        assert not SentProgram.objects.exists()
