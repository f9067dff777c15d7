"""Readings from files by page: sent, looked at, taken in, rejects fetched."""

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.imports import inspection, uploads
from fleet.models import SentFile
from tests.fleet.web.rows import all_readings, sent_file, text_of

LIST = "/readings/files/"
TEXT = "Unit;Datum;Stand\nT-01;25.01.2026;1.031,5\nT-99;25.01.2026;7\n"


@pytest.fixture(autouse=True)
def kept_apart(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def machine(farm):
    with farm.scope():
        return farm.machine(tag="T-01")


def send(client, text=TEXT, name="hours.csv"):
    data = text if isinstance(text, bytes) else text.encode()
    return client.post(LIST, {"file": SimpleUploadedFile(name, data)})


def send_and_read(house, client, *args):
    """Send a file and have a worker look at it; return the address of its page."""
    address = send(client, *args)["Location"]
    with house.scope():
        inspection.read(int(address.strip("/").rpartition("/")[2]))
    return address


def run(house, pk):
    with house.scope():
        uploads.run(pk)


def test_a_file_from_sending_to_its_rejects(farm, machine):
    client = farm.client("manager")
    page = client.get(send_and_read(farm, client))
    text = text_of(page)
    assert "CSV, UTF-8, separated by semicolons; 2 rows. Nothing is imported yet." in text
    assert "1 031.5 h" in text
    assert "No machine here has the fleet number or serial number 'T-99'." in text
    assert not all_readings()
    form = page.context["form"]
    chosen = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    assert chosen == {
        "machine": 0,
        "taken_at": 1,
        "hours": 2,
        "order": "dmy",
        "decimal": ",",
        "heading": True,
        "shown": "0 1 2 - -",
        "first": False,
    }
    unconfirmed = client.post(page.request["PATH_INFO"], {**chosen, "do": "take"} | {"first": ""})
    assert list(unconfirmed.context["form"].errors) == ["first"]
    chosen["first"] = "on"
    address = page.request["PATH_INFO"]
    assert client.post(address, {**chosen, "do": "take"})["Location"] == address
    assert "0 of 2 rows done" in text_of(client.get(address))
    sent = page.context["sent"]
    run(farm, sent.pk)
    text = text_of(client.get(address))
    assert "1 of 2 rows counted." in text
    assert "Download the rejected rows" in text
    answer = client.get(reverse("reading-file-rejects", args=[sent.pk]))
    assert 'filename="hours.rejects.csv"' in answer["Content-Disposition"]
    lines = b"".join(answer.streaming_content).decode("utf-8-sig").splitlines()
    assert lines[0] == "line,reason,Unit,Datum,Stand"
    assert lines[1].endswith(",T-99,25.01.2026,7")
    assert [str(reading.shows) for reading in all_readings()] == ["1031.50"]


def test_what_the_file_does_not_tell_is_asked_before_anything_is_shown(farm, machine):
    client = farm.client("owner")
    address = send_and_read(farm, client, "machine,date,hours\nT-01,03/04/2026,1204\n")
    page = client.get(address)
    assert "Say below what the file doesn't show" in text_of(page)
    assert page.context["told"] == []
    sent = {"machine": "0", "taken_at": "1", "hours": "2", "heading": "on", "decimal": "."}
    answer = client.post(address, {**sent, "do": "take"})
    assert (answer.status_code, list(answer.context["form"].errors)) == (422, ["order"])
    shown = client.post(address, {**sent, "order": "mdy", "do": "look"})
    assert "4 Mar" in text_of(shown)
    assert not all_readings()
    assert client.post(address, {**sent, "order": "mdy", "first": "on", "do": "take"}).status_code == 302
    farm.organisation.refresh_from_db()
    assert farm.organisation.date_order == "mdy"


def test_other_columns_can_be_chosen_but_not_one_for_two_things(farm, machine):
    client = farm.client("manager")
    address = send_and_read(farm, client)
    sent = {"machine": "0", "taken_at": "1", "hours": "0", "heading": "on", "order": "dmy", "decimal": ","}
    answer = client.post(address, {**sent, "do": "take"})
    assert list(answer.context["form"].errors) == ["hours"]
    assert "this one is taken for “Machine”." in text_of(answer)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "hours.csv is empty."),
        (b"\x89PNG\0", "neither a CSV nor an XLSX file"),
    ],
)
def test_a_bad_file_is_told_beside_its_field(farm, text, said):
    answer = send(farm.client("manager"), text)
    assert answer.status_code == 422
    assert said in text_of(answer)


def test_no_file_is_told(farm):
    assert farm.client("manager").post(LIST, {}).context["form"].errors.keys() == {"file"}


def test_progress_by_htmx_and_by_reloading(farm, machine):
    client = farm.client("manager")
    with farm.scope():
        sent = sent_file(farm, TEXT)
        uploads.start(sent=sent, plan=uploads.plan_of(sent).confirmed(), member=farm.manager)
        SentFile.objects.update(done=1, rows=2)
    text = client.get(reverse("reading-file", args=[sent.pk])).content.decode()
    assert '<progress id="share" class="share" max="2" value="1">50 %</progress>' in text
    assert 'hx-trigger="every 1s"' in text
    assert '<noscript><meta http-equiv="refresh" content="3"></noscript>' in text
    run(farm, sent.pk)  # it is at row 1 of 2 by now
    text = client.get(reverse("reading-file", args=[sent.pk])).content.decode()
    assert "hx-trigger" not in text
    assert "http-equiv" not in text


def test_a_file_broken_off_can_be_gone_on_with(farm, machine):
    client = farm.client("manager")
    with farm.scope():
        sent = sent_file(farm, TEXT)
        uploads.start(sent=sent, plan=uploads.plan_of(sent).confirmed(), member=farm.manager)
        SentFile.objects.update(state="failed", fault="The disk was full.")
    address = reverse("reading-file", args=[sent.pk])
    assert "The disk was full. 0 of 2 rows done." in text_of(client.get(address))
    assert client.post(address, {"do": "again"}).status_code == 302
    run(farm, sent.pk)
    assert "1 of 2 rows counted." in text_of(client.get(address))


def test_a_file_set_aside_is_gone_from_the_list(farm, machine):
    client = farm.client("manager")
    address = send(client)["Location"]
    assert "hours.csv" in text_of(client.get(LIST))
    assert client.post(address, {"do": "discard"})["Location"] == LIST
    assert "hours.csv" not in text_of(client.get(LIST))
    answer = client.post(address, {"do": "discard"}, follow=True)
    assert "hours.csv is discarded already." in text_of(answer)


def test_many_files_ask_as_few_queries(farm, machine):
    client = farm.client("manager")
    with farm.scope():
        sent_file(farm)
    client.get(LIST)

    def asked():
        with CaptureQueriesContext(connection) as context:
            client.get(LIST)
        return len(context)

    few = asked()
    with farm.scope():
        for _ in range(5):
            sent_file(farm)
    assert asked() == few


def test_while_it_is_read_the_page_says_so_and_comes_on_by_itself(farm, machine):
    client = farm.client("manager")
    address = send(client)["Location"]
    page = client.get(address)
    text = text_of(page)
    assert "It will be read in a moment." in text
    assert 'hx-trigger="every 1s"' in text
    assert '<noscript><meta http-equiv="refresh" content="3"></noscript>' in text
    poll = {"HX-Request": "true", "HX-Target": "progress"}
    assert "HX-Refresh" not in client.get(address, headers=poll)
    sent = page.context["sent"]
    with farm.scope():
        SentFile.objects.update(sent_at=sent.sent_at - timedelta(minutes=1))
    assert "It is waiting for the worker" in text_of(client.get(address))
    with farm.scope():
        SentFile.objects.update(tries=1)
    assert "It is being read." in text_of(client.get(address))
    with farm.scope():
        inspection.read(sent.pk)
    assert client.get(address, headers=poll)["HX-Refresh"] == "true"
    assert "Which column is which" in text_of(client.get(address))


def test_what_cannot_be_read_is_told_on_its_page_and_in_the_list(farm):
    client = farm.client("manager")
    address = send_and_read(farm, client, "a,b\n")
    assert "hours.csv has headings but no rows." in text_of(client.get(address))
    assert "hours.csv has headings but no rows." in text_of(client.get(LIST))
    assert client.post(address, {"do": "again"})["Location"] == address
    assert "It will be read in a moment." in text_of(client.get(address))
    assert client.post(address, {"do": "take"}).status_code == 409
    assert client.post(address, {"do": "discard"})["Location"] == LIST
