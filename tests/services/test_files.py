"""A file taken in by a real worker that is killed in the middle: nothing is lost, nothing is doubled."""

import pytest

from tests.services.installation import Installation, wait_for
from tests.services.test_worker import BEAT, SEED, WORKER

pytestmark = pytest.mark.service

ROWS = 20_000
SEND = f"""
from datetime import timedelta
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from django_scopes import scope
from fleet import sent_files
from fleet.models import Member, Organisation
begin = timezone.now().replace(microsecond=0) - timedelta(days=440)
lines = [f"T-1,{{(begin + timedelta(minutes=30 * n)).isoformat()}},{{n / 10:.1f}}" for n in range({ROWS})]
lines[7::1000] = ["T-9,2026-01-01,5"] * {ROWS // 1000}
text = "machine,date,hours\\n" + "\\n".join(lines)
with scope(organisation=Organisation.objects.get()):
    member = Member.objects.get()
    sent = sent_files.receive(upload=SimpleUploadedFile("hours.csv", text.encode()), member=member)
    sent = sent_files.start(sent=sent, plan=sent_files.Plan.kept(sent.plan), member=member)
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


def test_a_worker_killed_in_the_middle_of_a_file_loses_and_doubles_nothing(installation: Installation):
    installation.python(SEED)
    assert installation.python(SEND) == "running"
    installation.start("worker", *WORKER)
    wait_for(lambda: installation.python(STATE)[1], seconds=60, otherwise=installation.said)
    installation.kill("worker")
    state, done, *_, kept, rejected = installation.python(STATE)
    assert state == "running"
    assert 0 < done < ROWS
    assert kept + rejected == done  # what was said to be done is there, and nothing else
    installation.python(LONG_AGO)
    installation.start("worker", *WORKER)
    installation.start("beat", *BEAT)
    wait_for(lambda: installation.python(STATE)[0] == "done", seconds=120, otherwise=installation.said)
    wrong = ROWS // 1000
    assert installation.python(STATE) == ["done", ROWS, ROWS - wrong, 0, 0, wrong, ROWS - wrong, wrong]
