"""Hours under fault, with real processes: what was accepted is counted or held, once each.

Every check counts rows in the database, past our own code; no return value is trusted.
"""

import json
import random
import subprocess
import threading
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.error import HTTPError, URLError
from urllib.request import Request, urlopen

import pytest
from PIL import Image

from tests.services.installation import Installation, wait_for

pytestmark = pytest.mark.service

MACHINES = 40
SEED = f"""
from datetime import timedelta
from django.utils import timezone
from django_scopes import scope
from fleet.models import *
from servicing.models import *
farm = Organisation.objects.create(name="Alder Farm", slug="alder-farm")
with scope(organisation=farm):
    user = User.objects.create_user("mara", "mara@example.org", "seven odd lanterns")
    owner = Member.objects.create(organisation=farm, user=user, role="owner")
    yard = Yard.objects.create(organisation=farm, name="Home")
    kind = MachineType.objects.create(organisation=farm, maker="Haldane", model="HX 25", category="tractor")
    program = ServiceProgram.objects.create(organisation=farm, machine_type=kind, code="p", title="P")
    then = timezone.now() - timedelta(days=400)
    version = ProgramVersion.objects.create(
        organisation=farm, program=program, number=1, state="current", made_at=then)
    task = Task.objects.create(organisation=farm, version=version, code="oil", title="Change engine oil")
    Interval.objects.create(organisation=farm, task=task, every_hours=100)
    for number in range({MACHINES}):
        machine = Machine.objects.create(
            organisation=farm, type=kind, yard=yard, tag=f"T-{{number:02}}", in_service_on=then.date())
        MeterSegment.objects.create(organisation=farm, machine=machine, started_at=then)
    answer = ApiToken.issue(name="box", created_by=owner, member=owner)[1]
"""
ONCE = """
SELECT client_id, count(*) FROM fleet_reading GROUP BY client_id HAVING count(*) > 1
"""
BY_STATE = "SELECT state, count(*) FROM fleet_reading GROUP BY state"
WAITING = "SELECT count(*) FROM fleet_machine WHERE projection_wanted_at IS NOT NULL"
PHOTOS = "SELECT count(*) FROM fleet_readingphoto"
DUTIES = "SELECT count(*) FROM servicing_duty WHERE likely IS NOT NULL"


@pytest.fixture
def farm(tmp_path, broker, postgres):
    made = Installation(tmp_path, broker.url)
    made.token = made.python(SEED)
    yield made
    made.stop()


def batch(size, *, name, days=300):
    """Daily readings of all machines from so many days ago on: each has run 4 h a day since the 300th."""
    begun = datetime.now(UTC) - timedelta(days=days)
    return [
        {
            "machine": f"T-{number % MACHINES:02}",
            "taken_at": (begun + timedelta(days=number // MACHINES)).isoformat(),
            "meter": 4 * (300 - days + number // MACHINES),
            "client_id": f"{name}-{number}",
        }
        for number in range(size)
    ]


def post(site, token, rows, *, patience=60):
    """Send a batch; return the status and the body, status 0 where the line broke."""
    request = Request(
        f"{site}/api/v1/readings",
        data=json.dumps({"readings": rows}).encode(),
        headers={"Authorization": f"Bearer {token}", "Content-Type": "application/json"},
    )
    try:
        with urlopen(request, timeout=patience) as answer:
            return answer.status, json.load(answer)
    except HTTPError as error:
        return error.code, error.read().decode()
    except (URLError, OSError):
        return 0, ""


def until_taken(site, token, rows, *, seconds=120):
    """Send a batch again and again, as a box does; return how often it failed, and the answer."""
    failures, end = [], time.monotonic() + seconds
    while time.monotonic() < end:
        status, body = post(site, token, rows)
        if status == 200:
            return failures, body
        failures.append(status)
        time.sleep(0.05)
    raise AssertionError(f"never taken: {Counter(failures)}")


def kept(farm):
    """Rows by state; fails where one is there twice."""
    assert farm.rows(ONCE) == []
    return dict(farm.rows(BY_STATE))


def accepted(body):
    return Counter(row["outcome"] for row in body["readings"])


def test_the_database_goes_in_the_middle_of_batches(farm):
    site, rows = farm.serve(), [batch(2000, name=f"b{n}", days=300 - 60 * n) for n in range(4)]
    done = threading.Event()

    def cutting():
        while not done.is_set():
            farm.cut()
            time.sleep(random.uniform(0.01, 0.1))

    with ThreadPoolExecutor(5) as threads:
        cutter = threads.submit(cutting)
        sent = [threads.submit(post, site, farm.token, each) for each in rows]
        first = [each.result()[0] for each in sent]
        time.sleep(0.5)
        done.set()
        cutter.result()
        answers = [threads.submit(until_taken, site, farm.token, each) for each in rows]
        bodies = [each.result()[1] for each in answers]
    assert any(status != 200 for status in first), "nothing was cut"
    assert set(first) <= {0, 200, 503}
    states = kept(farm)
    assert sum(states.values()) == sum(len(each) for each in rows)
    assert sum(sum(accepted(body).values()) for body in bodies) == sum(states.values())


def test_a_worker_killed_again_and_again_leaves_no_machine_behind(farm):
    site = farm.serve()
    for number in range(4):
        farm.start("worker", "worker", "--pool", "solo", "--loglevel", "INFO")
        rows = batch(400, name=f"k{number}", days=300 - 60 * number)
        assert post(site, farm.token, rows)[0] == 200
        time.sleep(random.uniform(1, 4))
        farm.kill("worker")
    farm.start("worker", "worker", "--pool", "solo", "--loglevel", "INFO")
    farm.start("beat", "beat", "--loglevel", "INFO")
    wait_for(lambda: farm.rows(WAITING) == [(0,)], seconds=90, otherwise=farm.said)
    assert farm.rows(DUTIES) == [(MACHINES,)]
    assert sum(kept(farm).values()) == 1600


def test_the_broker_goes_and_comes_back(farm, broker):
    site = farm.serve()
    farm.start("worker", "worker", "--pool", "solo", "--loglevel", "INFO")
    farm.start("beat", "beat", "--loglevel", "INFO")
    assert post(site, farm.token, batch(400, name="before"))[0] == 200
    broker.kill()
    status, body = post(site, farm.token, batch(400, name="without", days=200))
    assert (status, sum(accepted(body).values())) == (200, 400), body
    broker.start()
    wait_for(lambda: farm.rows(WAITING) == [(0,)], seconds=120, otherwise=farm.said)
    assert farm.rows(DUTIES) == [(MACHINES,)]
    assert sum(kept(farm).values()) == 800


def test_two_identical_batches_at_the_same_moment(farm):
    site, rows = farm.serve(), batch(1000, name="twin")
    together = threading.Barrier(4)

    def send():
        together.wait()
        return post(site, farm.token, rows)

    with ThreadPoolExecutor(4) as threads:
        answers = [each.result() for each in [threads.submit(send) for _ in range(4)]]
    outcomes = [
        accepted(until_taken(site, farm.token, rows)[1] if code != 200 else body) for code, body in answers
    ]
    states = kept(farm)
    assert sum(states.values()) == 1000
    first = sum((each - Counter(duplicate=each["duplicate"]) for each in outcomes), Counter())
    assert dict(first) == states, "each row is new to one of them and a duplicate to the others"
    assert all(sum(each.values()) == 1000 for each in outcomes)


ODD: list[Any] = [
    None,
    "",
    " ",
    0,
    -1,
    1e308,
    1e-9,
    True,
    [],
    {},
    "T-00",
    "T-\u0000",
    "\ud83d\ude9c",
    "9" * 400,
]
TAGS = [f"T-{number:02}" for number in range(MACHINES)]


def noise(chance, number):
    """A row with anything in it, now and then all of it right."""
    if chance.random() < 0.02:
        return chance.choice([None, 7, "row", [], {}, {"machine": "T-00"}])
    moment = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=chance.randrange(450_000))
    figures = [str(chance.randrange(5000)) for _ in range(20)]
    return {
        "machine": chance.choice([*ODD, *TAGS, 1, 2**70, "t-01"]),
        "taken_at": chance.choice(
            [*ODD, *[moment.isoformat()] * 20, "2026-02-30T10:00Z", "0001-01-01T00:00Z"]
        ),
        "meter": chance.choice([*ODD, *figures, "12,5", "NaN", "1e400", "\u0663"]),
        "client_id": f"n-{number}",
        "note": chance.choice([None, "", "muddy", "x" * 700, 3]),
    }


def test_ten_thousand_rows_of_noise(farm):
    site, chance = farm.serve(), random.Random(20261125)
    rows = [noise(chance, number) for number in range(10_000)]
    answers = [post(site, farm.token, rows[start : start + 5000]) for start in (0, 5000)]
    assert [status for status, _ in answers] == [200, 200], [
        body for status, body in answers if status != 200
    ]
    outcomes = sum((accepted(body) for _, body in answers), Counter())
    assert sum(outcomes.values()) == 10_000
    states = kept(farm)
    assert states == {state: outcomes[state] for state in ("counted", "held") if outcomes[state]}
    assert {"counted", "held"} <= states.keys(), "some of it was right"
    assert all(
        row["reason"] for _, body in answers for row in body["readings"] if row["outcome"] != "counted"
    )


def picture(folder):
    """A photo larger than what the disk still takes."""
    photo = folder / "meter.jpg"
    Image.effect_noise((400, 400), 90).convert("RGB").save(photo, quality=95)
    assert photo.stat().st_size > 40_000
    return photo


def curl(*arguments):
    """Send a request as a browser or a phone does; return the status and the body."""
    command = ["curl", "-s", "-w", "\n%{http_code}", *arguments]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    body, _, status = said.rpartition("\n")
    return status, body


def files(folder):
    return [each for each in (folder / "media").rglob("*") if each.is_file()]


def test_a_full_disk_costs_the_photo_of_a_meter_and_never_its_hours(farm, tmp_path):
    site, photo = farm.serve(largest_file=20), picture(tmp_path)
    ((member, machine),) = farm.rows(
        "SELECT fleet_member.id, fleet_machine.id FROM fleet_member, fleet_machine WHERE tag = 'T-00'"
    )
    entry = {"member": member, "machine": machine, "read_seconds_ago": 60, "meter": "40", "client_id": "p-1"}

    def send(address, *what):
        bearer = ["-H", f"Authorization: Bearer {farm.token}"]
        status, body = curl(*bearer, *what, f"{site}/api/v1/phone/{address}")
        return int(status), json.loads(body)

    def enter():
        return send("entries", "-H", "Content-Type: application/json", "-d", json.dumps(entry))

    def show(reading):
        return send(f"readings/{reading}/photos", "-F", f"photo=@{photo}")

    status, told = enter()
    assert (status, told["outcome"]) == (200, "counted")
    status, problem = show(told["reading"])
    assert (status, problem["type"]) == (507, "urn:hourmark:problem:no-room")
    assert (kept(farm), farm.rows(PHOTOS), files(tmp_path)) == ({"counted": 1}, [(0,)], [])
    farm.kill("web")
    site = farm.serve()
    assert enter()[1]["outcome"] == "duplicate"
    assert [show(told["reading"])[0] for _ in range(2)] == [201, 201]
    assert (kept(farm), farm.rows(PHOTOS), len(files(tmp_path))) == ({"counted": 1}, [(1,)], 1)


def test_a_full_disk_keeps_the_fault_waiting_and_no_half_of_a_photo(farm, tmp_path):
    """The kernel refuses the writer more than 20 kB a file, as a full disk refuses more than it has."""
    site = farm.serve(largest_file=20)
    photo = picture(tmp_path)
    status, said = _report(site, tmp_path, photo)
    assert status == "200", said
    assert "no room to keep the photo" in said
    assert "Hose weeps" in said, "what was typed comes back"
    assert farm.rows("SELECT count(*) FROM servicing_fault") == [(0,)]
    assert files(tmp_path) == []
    farm.kill("web")
    site = farm.serve()
    assert _report(site, tmp_path, photo)[0] == "302"
    assert farm.rows("SELECT count(*) FROM servicing_fault WHERE photo <> ''") == [(1,)]


def _report(site, folder, photo):
    """Report a fault with a photo as a browser does; return the status and the page."""
    jar = folder / "cookies"

    def ask(*arguments):
        return curl("-b", str(jar), "-c", str(jar), *arguments)

    def token():
        return next(line.split()[-1] for line in jar.read_text().splitlines() if "csrftoken" in line)

    ask(f"{site}/sign-in/")
    signed = ["-d", "username=mara", "-d", "password=seven odd lanterns"]
    ask(*signed, "-d", f"csrfmiddlewaretoken={token()}", f"{site}/sign-in/")
    address = f"{site}/machines/1/faults/new/"
    ask(address)
    typed = ["-F", f"csrfmiddlewaretoken={token()}", "-F", "text=Hose weeps", "-F", "severity=soon"]
    return ask(*typed, "-F", f"photo=@{photo}", address)
