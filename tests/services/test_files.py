"""A file taken in by a real worker that is killed in the middle: nothing is lost, nothing is doubled."""

import pytest

from tests.services.installation import Installation, wait_for
from tests.services.test_worker import BEAT, SEED, WORKER

pytestmark = pytest.mark.service

ROWS = 20_000  # the first half of one machine, the second half of another
SEND = f"""
from datetime import timedelta
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from django_scopes import scope
from fleet.imports import inspection, uploads
from fleet.models import Machine, Member, MeterSegment, Organisation
begin = timezone.now().replace(microsecond=0) - timedelta(days=440)
half = {ROWS} // 2
lines = [f"{{tag}},{{(begin + timedelta(minutes=30 * n)).isoformat()}},{{n / 10:.1f}}"
         for tag in ("T-1", "T-2") for n in range(half)]
lines[7::1000] = ["T-9,2026-01-01,5"] * {ROWS // 1000}
text = "machine,date,hours\\n" + "\\n".join(lines)
with scope(organisation=Organisation.objects.get()):
    one = Machine.objects.get()
    other = Machine.objects.create(
        organisation=one.organisation, type=one.type, yard=one.yard, tag="T-2",
        in_service_on=one.in_service_on)
    MeterSegment.objects.create(organisation=one.organisation, machine=other, started_at=begin)
    member = Member.objects.get()
    sent = uploads.receive(upload=SimpleUploadedFile("hours.csv", text.encode()), member=member)
    inspection.read(sent.pk)
    sent.refresh_from_db()
    sent = uploads.start(sent=sent, plan=uploads.Plan.kept(sent.plan).confirmed(), member=member)
answer = sent.state
"""
STATE = """
from django_scopes import scopes_disabled
from fleet.models import Reading, RejectedRow, SentFile
with scopes_disabled():
    sent = SentFile.objects.get()
    answer = [sent.state, sent.done, sent.counted, sent.held, sent.duplicate, sent.refused,
              Reading.objects.filter(source="file").count(), RejectedRow.objects.count()]
"""
LONG_AGO = """
from datetime import timedelta
from django_scopes import scopes_disabled
from fleet.models import SentFile
with scopes_disabled():
    sent = SentFile.objects.get()
    SentFile.objects.update(heard_at=sent.heard_at - 2 * SentFile.PATIENCE)
"""
STATES = "SELECT state FROM fleet_sentfile"
SECOND_MACHINE = "SELECT id FROM fleet_machine WHERE tag = 'T-2' FOR UPDATE"


@pytest.mark.usefixtures("postgres")
def test_a_worker_killed_in_the_middle_of_a_file_loses_and_doubles_nothing(installation: Installation):
    installation.python(SEED)
    assert installation.python(SEND) == "running"
    with installation.holding(SECOND_MACHINE):
        installation.start("worker", *WORKER)
        wait_for(installation.somebody_waits, seconds=60, otherwise=installation.said)
        installation.kill("worker")
    state, done, *_, kept, rejected = installation.python(STATE)
    assert (state, done) == ("running", ROWS // 2)
    assert kept + rejected == done  # what was said to be done is there, and nothing else
    installation.python(LONG_AGO)
    installation.start("worker", *WORKER)
    installation.start("beat", *BEAT)
    wait_for(lambda: installation.rows(STATES) == [("done",)], seconds=120, otherwise=installation.said)
    wrong = ROWS // 1000
    assert installation.python(STATE) == ["done", ROWS, ROWS - wrong, 0, 0, wrong, ROWS - wrong, wrong]
