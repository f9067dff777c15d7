"""Mail with real worker, beat and a real mail server that breaks off: at most once, and visibly so."""

import pytest

from tests.notifications.bad_server import AFTER_THE_DOT, BEFORE_THE_DOT, DURING, TAKEN, BadServer
from tests.notifications.sending import subjects
from tests.services.installation import Installation, wait_for
from tests.services.test_worker import BEAT, SEED, WORKER

pytestmark = pytest.mark.service

POST = """
from django_scopes import scope
from fleet.models import Member, Organisation
from notifications import outbox
farm = Organisation.objects.get()
with scope(organisation=farm):
    for number in range({count}):
        outbox.post(member=Member.objects.get(), subject=f"mail {{number}}", body="Oil and filter")
"""
STATES = """
from django_scopes import scopes_disabled
from notifications.models import Message
with scopes_disabled():
    answer = {message.subject: message.state for message in Message.objects.all()}
"""
LATER = """
from datetime import timedelta
from django.db.models import F
from django_scopes import scopes_disabled
from notifications.models import Message
with scopes_disabled():
    Message.objects.filter(state="in flight").update(claimed_at=F("claimed_at") - timedelta(minutes=16))
"""
AT_ONCE = """
from django.utils import timezone
from django_scopes import scopes_disabled
from notifications.models import Message
with scopes_disabled():
    Message.objects.filter(state="queued").update(next_try_at=timezone.now())
"""


@pytest.fixture(params=["redis", "files"])
def farm(request, tmp_path):
    """An installation with one member, on a broker of either kind; no digest of its own goes out."""
    if request.param == "redis":
        running = request.getfixturevalue("installation")
        yield _seeded(running)
    else:
        running = Installation(tmp_path, "")
        yield _seeded(running)
        running.stop()


def _seeded(running):
    running.environment["HOURMARK_DIGEST_SECONDS"] = "86400"
    running.python(SEED)
    return running


def test_a_worker_killed_as_it_sends_leaves_the_mail_interrupted(farm):
    with BadServer(lambda number: "dot hangs" if number == 0 else "good") as server:
        farm.environment["EMAIL_URL"] = f"smtp://127.0.0.1:{server.port}"
        farm.start("worker", *WORKER)
        farm.python(POST.format(count=1))
        wait_for(lambda: server.kept, seconds=60, otherwise=farm.said)
        farm.kill("worker")
        assert farm.python(STATES) == {"mail 0": "in flight"}
        farm.python(LATER)
        farm.start("worker", *WORKER)
        farm.start("beat", *BEAT)
        wait_for(lambda: farm.python(STATES) == {"mail 0": "interrupted"}, seconds=60, otherwise=farm.said)
        farm.python(POST.format(count=2).replace("mail {", "later {"))
        wait_for(lambda: len(server.kept) >= 3, seconds=60, otherwise=farm.said)
        assert farm.python(STATES)["mail 0"] == "interrupted"
        assert subjects(server) == {"mail 0": 1, "later 0": 1, "later 1": 1}


def test_two_hundred_mails_past_a_bad_server_arrive_once_or_are_in_doubt(farm):
    stages = [each for each in (*BEFORE_THE_DOT, DURING, *AFTER_THE_DOT, *TAKEN) if "hangs" not in each]
    with BadServer(lambda number: stages[number % len(stages)]) as server:
        farm.environment["EMAIL_URL"] = f"smtp://127.0.0.1:{server.port}"
        farm.python(POST.format(count=200))
        farm.start("worker", *WORKER)
        farm.start("beat", *BEAT)

        def settled():
            states = farm.python(f"{AT_ONCE}{STATES}")
            return states if not {"queued", "in flight"} & set(states.values()) else None

        states = wait_for(settled, seconds=240, otherwise=farm.said)
    arrived = subjects(server)
    assert max(arrived.values()) == 1
    assert len(states) == 200
    assert all(arrived[subject] == 1 for subject, state in states.items() if state == "sent")
    assert all(arrived[subject] == 0 for subject, state in states.items() if state == "failed")
    assert {"sent", "interrupted"} <= set(states.values())
