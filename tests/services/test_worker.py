"""The whole way with real processes: reading, projection by a worker, digest by beat, mail by SMTP, once."""

import time

import pytest

from tests.services.installation import free_port, wait_for

pytestmark = pytest.mark.service

WORKER = ("worker", "--pool", "solo", "--loglevel", "INFO")
BEAT = ("beat", "--loglevel", "INFO")

SEED = """
from datetime import timedelta
from django.utils import timezone
from django_scopes import scope
from fleet.models import *
from servicing.models import *
farm = Organisation.objects.create(name="Alder Farm", slug="alder-farm", digest_hour=0)
with scope(organisation=farm):
    user = User.objects.create_user("mara", "mara@example.org", first_name="Mara")
    Member.objects.create(organisation=farm, user=user, role="manager")
    yard = Yard.objects.create(organisation=farm, name="Home")
    kind = MachineType.objects.create(organisation=farm, maker="Haldane", model="HX 25", category="tractor")
    program = ServiceProgram.objects.create(organisation=farm, machine_type=kind, code="p", title="P")
    now = timezone.now()
    version = ProgramVersion.objects.create(
        organisation=farm, program=program, number=1, state="current", made_at=now - timedelta(days=90))
    task = Task.objects.create(organisation=farm, version=version, code="oil", title="Change engine oil")
    Interval.objects.create(organisation=farm, task=task, every_hours=100)
    machine = Machine.objects.create(
        organisation=farm, type=kind, yard=yard, tag="T-1", in_service_on=(now - timedelta(days=90)).date())
    MeterSegment.objects.create(organisation=farm, machine=machine, started_at=now - timedelta(days=90))
answer = machine.pk
"""

READ = """
from datetime import timedelta
from django.utils import timezone
from django_scopes import scope
from fleet import readings
from fleet.models import Organisation
farm = Organisation.objects.get()
now = timezone.now()
rows = [readings.Submitted("T-1", now - timedelta(days=40 - 4 * n), 8 * n + {start}) for n in range(10)]
answer = [receipt.state for receipt in
          readings.take(organisation=farm, rows=rows, source="page", sender="page")]
"""

DUTY = """
from django_scopes import scopes_disabled
from servicing.models import Duty
with scopes_disabled():
    answer = [[str(duty.mark_hours), duty.likely] for duty in Duty.objects.all() if duty.likely]
"""


def test_hours_become_a_duty_and_a_mail_that_is_sent_once(installation):
    installation.python(SEED)
    installation.start("worker", *WORKER)
    assert installation.python(READ.format(start=20)) == ["counted"] * 10
    ((mark, likely),) = wait_for(lambda: installation.python(DUTY), seconds=60, otherwise=installation.said)
    assert mark == "100.00"
    assert likely
    installation.start("beat", *BEAT)  # not before: a day's digest is written once, whatever comes after it
    (letter,) = wait_for(lambda: installation.letters.kept, seconds=60, otherwise=installation.said)
    assert "To: mara@example.org" in letter
    assert "Change engine oil" in letter
    time.sleep(5)  # several rounds of beat
    assert len(installation.letters.kept) == 1


def test_with_the_broker_down_a_reading_is_taken_and_the_sweep_makes_up_for_it(installation):
    installation.python(SEED)
    nobody = f"redis://127.0.0.1:{free_port()}/0"
    assert installation.python(READ.format(start=20), REDIS_URL=nobody) == ["counted"] * 10
    assert installation.python(DUTY) == []
    time.sleep(21)  # what waits for its own task this long is the sweep's
    installation.start("worker", *WORKER)
    installation.start("beat", *BEAT)
    assert wait_for(lambda: installation.python(DUTY), seconds=60, otherwise=installation.said)


def test_a_killed_worker_loses_nothing(installation):
    installation.python(SEED)
    installation.start("worker", *WORKER)
    wait_for(
        lambda: b"ready" in (installation.folder / "worker.log").read_bytes(),
        seconds=60,
        otherwise=installation.said,
    )
    installation.kill("worker")
    assert installation.python(READ.format(start=20)) == ["counted"] * 10
    installation.start("worker", *WORKER)
    assert wait_for(lambda: installation.python(DUTY), seconds=60, otherwise=installation.said)
