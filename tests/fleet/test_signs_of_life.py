"""What the last signs of life say, at the boundary of each limit."""

from datetime import UTC, datetime, timedelta

import pytest
from django.utils import timezone

from fleet import signs_of_life, tasks
from fleet.models import SignOfLife
from fleet.signs_of_life import BEAT, WORK, WORKER

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)
DAY = 86_400.0


@pytest.fixture(autouse=True)
def _limits(settings):
    settings.SILENCE_SECONDS = 210.0
    settings.CELERY_TASK_TIME_LIMIT = 900


def life(*, listened=DAY, **seconds_ago):
    for part, ago in seconds_ago.items():
        signs_of_life.sign(part, at=NOON - timedelta(seconds=ago))
    return signs_of_life.look(now=NOON, listened=listened)


def test_a_sign_replaces_the_one_before():
    signs_of_life.sign(BEAT, at=NOON - timedelta(hours=1))
    signs_of_life.sign(BEAT, at=NOON)
    assert [(row.part, row.at) for row in SignOfLife.objects.all()] == [("beat", NOON)]


@pytest.mark.parametrize(
    ("ages", "status", "gone"),
    [
        ({"beat": 210, "worker": 210, "work": 1110}, "ok", ()),
        ({"beat": 211, "worker": 210, "work": 1}, "unhealthy", (BEAT,)),
        ({"beat": 210, "worker": 211, "work": 1}, "unhealthy", (WORKER,)),
        ({"beat": 1, "worker": 1, "work": 1111}, "unhealthy", (WORK,)),  # it listens, and does nothing
        ({"beat": 1, "worker": 1111, "work": 1111}, "unhealthy", (WORKER,)),  # so nothing can be done
        ({"beat": 1111, "worker": 1111, "work": 1111}, "unhealthy", (BEAT, WORKER)),
        ({"beat": -30, "worker": -30, "work": -30}, "ok", ()),  # a clock set back
    ],
)
def test_a_part_is_gone_beyond_its_limit(ages, status, gone):
    seen = life(**ages)
    assert (seen.status, seen.gone) == (status, gone)


@pytest.mark.parametrize(("listened", "status"), [(210, "starting"), (211, "unhealthy")])
def test_a_silence_counts_from_when_somebody_listens(listened, status):
    assert life(beat=DAY, listened=listened).status == status


def test_the_pulse_signs_for_work():
    tasks.pulse.apply()
    assert set(SignOfLife.objects.values_list("part", flat=True)) == {"work"}


def test_what_is_gone_in_words():
    assert signs_of_life.sentences(life(beat=1, worker=1, work=1)) == []
    assert signs_of_life.sentences(life(beat=211, worker=7_260, work=1)) == [
        "The scheduler (beat) has not been heard from for 3\xa0minutes.",
        "The worker has not been heard from for 2\xa0hours.",
    ]
    assert signs_of_life.sentences(life(beat=1, worker=1, work=1_111)) == [
        "The worker runs, but has done none of the scheduler's tasks for 18\xa0minutes."
    ]


def test_a_part_that_never_signed_in_words():
    assert signs_of_life.sentences(life(worker=1, work=1)) == [
        "The scheduler (beat) has not been heard from yet."
    ]


def test_every_part_in_words():
    assert signs_of_life.spoken(life(beat=1.2, worker=59.4)) == [
        ("Scheduler (beat)", "1 second ago"),
        ("Worker", "59 seconds ago"),
        ("Last task of the scheduler done", "not yet"),
    ]


@pytest.fixture
def _gone(monkeypatch):
    """The worker was last seen an hour ago, and this web server has been up for a day."""
    monkeypatch.setattr(signs_of_life, "LISTENING_SINCE", signs_of_life.LISTENING_SINCE - DAY)
    now = timezone.now()
    for part, ago in ((BEAT, 1), (WORKER, 3_700), (WORK, 3_700)):
        signs_of_life.sign(part, at=now - timedelta(seconds=ago))


@pytest.mark.usefixtures("_gone")
def test_owners_are_told_on_today(farm):
    page = farm.client("owner").get("/").content.decode()
    assert "The worker has not been heard from for 1\xa0hour." in page


@pytest.mark.usefixtures("_gone")
@pytest.mark.parametrize("role", ["manager", "technician", "counter"])
def test_others_are_not(farm, role):
    assert "sign of life" not in farm.client(role).get("/").content.decode()


def test_today_says_nothing_when_all_is_well(farm, monkeypatch):
    monkeypatch.setattr(signs_of_life, "LISTENING_SINCE", signs_of_life.LISTENING_SINCE - DAY)
    for part in (BEAT, WORKER, WORK):
        signs_of_life.sign(part, at=timezone.now())
    assert "sign of life" not in farm.client("owner").get("/").content.decode()


@pytest.mark.usefixtures("_gone")
def test_the_operator_is_told_in_administration(admin_client):
    page = admin_client.get("/admin/").content.decode()
    assert "The worker has not been heard from for 1\xa0hour." in page
    assert "Scheduler (beat)" in page
