"""How fast hours come in over HTTP, beside the database by itself and the usual way to write an intake.

    python benchmarks/intake.py --database postgres://... --redis redis://.../N

In a database of its own (made beside the one named, dropped after); the Redis database must be empty. 2,000
machines in 4 yards, 200,000 readings of theirs, one in a hundred implausible, in batches of 500 as JSON
through gunicorn with 2 workers, 4 boxes sending at a time; each box's token limited to its yard, a client id
on each row, an Idempotency-Key on each request. `rounds`: a batch is one reading each of a yard's 500
machines, as a telematics provider sends them; `histories`: 100 readings each of 5 machines, as one who moves
in sends them. The first tenth comes in before the clock runs, and is analysed, as autovacuum does by itself
within a minute.

Beside it, in the same run: (a) COPY of the very rows that were written into the same table with its indexes
and constraints, emptied before; (b) a plain ModelSerializer(many=True) with its unique validators and
bulk_create, called in process. Then single readings at 50 a second, each timed from the moment it was due.
"""

import argparse
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import numpy as np
import psycopg
import redis

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

YARDS, BATCH, WORKERS = 4, 500, 2
SINGLES_A_SECOND = 50
PLAIN_ROWS = 4_000
ORDERS = ("rounds", "histories")
STARTED = datetime.now(UTC).replace(microsecond=0)
Batches = list[list[bytes]]  # for each yard, the bodies its box sends, one after another


def machine_tag(number: int) -> str:
    """The tag of a machine, by its number."""
    return f"M-{number:05d}"


def made(machines: int, each: int, order: str) -> tuple[Batches, np.ndarray]:
    """Readings twice a day up to now, `each` of every machine, cut into bodies in the order asked for.

    Also what each meter shows at the end.
    """
    first = STARTED - timedelta(hours=12 * each)
    chance = np.random.default_rng(7)
    ran = np.round(np.cumsum(chance.gamma(2.0, 1.5, (machines, each)).clip(0, 11), axis=1), 1)
    wrong = chance.random((machines, each)) < 0.01
    wrong[:, :3] = False  # what comes first is believed
    shown = np.where(wrong, np.round(ran * 10 + 500, 1), ran)

    def row(machine: int, n: int) -> dict[str, object]:
        return {
            "machine": machine_tag(machine),
            "taken_at": (first + timedelta(hours=12 * n, minutes=machine % 50)).isoformat(),
            "shows": float(shown[machine, n]),
            "client_id": f"{machine:05d}-{n:03d}",
        }

    of_yard = machines // YARDS
    batches: Batches = []
    for yard in range(YARDS):
        own = range(yard * of_yard, (yard + 1) * of_yard)
        if order == "rounds":
            rows = [row(machine, n) for n in range(each) for machine in own]
        else:
            rows = [row(machine, n) for machine in own for n in range(each)]
        cut = [rows[n : n + BATCH] for n in range(0, len(rows), BATCH)]
        batches.append([json.dumps({"readings": part}).encode() for part in cut])
    return batches, ran[:, -1]


class Box:
    """A sender with a token of its own, on one connection that it keeps."""

    def __init__(self, port: int, secret: str) -> None:
        self.headers = {"Authorization": f"Bearer {secret}", "Content-Type": "application/json"}
        self.connection = HTTPConnection("127.0.0.1", port, timeout=60)

    def send(self, body: bytes, key: str) -> bytes:
        """Send one body; return the answer's. Any status but 200 ends the measurement."""
        for again in (True, False):
            try:
                self.connection.request(
                    "POST", "/api/v1/readings", body, self.headers | {"Idempotency-Key": f'"{key}"'}
                )
                answer = self.connection.getresponse()
                told = answer.read()
                break
            except (ConnectionError, OSError):  # the server closed a connection that had been idle
                self.connection.close()
                if not again:
                    raise
        if answer.status != 200:
            raise SystemExit(f"{answer.status}: {told.decode()[:300]}")
        return told


def sent(port: int, secrets: list[str], batches: Batches, key: str) -> tuple[float, Counter[str]]:
    """Seconds until every box has every answer, and how many rows had each outcome."""
    told: list[list[bytes]] = [[] for _ in secrets]

    def run(place: int) -> None:
        box = Box(port, secrets[place])
        for n, body in enumerate(batches[place]):
            told[place].append(box.send(body, f"{key}-{n}"))

    threads = [threading.Thread(target=run, args=(place,)) for place in range(len(secrets))]
    began = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    seconds = time.perf_counter() - began
    tally: Counter[str] = Counter()
    for answers in told:
        for answer in map(json.loads, answers):
            tally.update({name: answer[name] for name in ("counted", "held", "duplicate", "refused")})
    return seconds, tally


def singles(port: int, secrets: list[str], shown: np.ndarray, seconds: int) -> np.ndarray:
    """Milliseconds of single readings, 50 due each second, from the moment each was due to its answer."""
    total, of_yard = SINGLES_A_SECOND * seconds, len(shown) // YARDS
    took = np.zeros(total)
    boxes = 16
    began = time.perf_counter() + 0.5

    def run(first: int) -> None:
        yard = first % YARDS
        box = Box(port, secrets[yard])
        for n in range(first, total, boxes):
            machine = yard * of_yard + n // YARDS % of_yard
            row = {
                "machine": machine_tag(machine),
                "taken_at": datetime.now(UTC).isoformat(),
                "shows": float(shown[machine]) + 0.1 * (n // len(shown)),
                "client_id": f"single-{n}",
            }
            due = began + n / SINGLES_A_SECOND
            time.sleep(max(0.0, due - time.perf_counter()))
            answer = json.loads(box.send(json.dumps(row).encode(), f"single-{n}"))
            took[n] = (time.perf_counter() - due) * 1000
            assert answer["counted"] == 1, answer

    threads = [threading.Thread(target=run, args=(first,)) for first in range(boxes)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return took


@contextmanager
def served(environment: dict[str, str]) -> Iterator[tuple[int, "subprocess.Popen[bytes]"]]:
    """Gunicorn as docker-compose.yml runs it, with 2 workers; yields its port and its process."""
    with closing(socket.create_server(("127.0.0.1", 0))) as free:
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "gunicorn", "config.wsgi:application", f"--bind=127.0.0.1:{port}"]
    server = subprocess.Popen(
        [*command, f"--workers={WORKERS}", "--threads=4", "--worker-tmp-dir=/dev/shm", "--log-level=warning"],
        cwd=ROOT,
        env=environment,
        start_new_session=True,
    )
    try:
        for _ in range(600):
            with closing(socket.socket()) as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.05)
        yield port, server
    finally:
        os.killpg(server.pid, signal.SIGTERM)
        server.wait()


def workers_of(server: "subprocess.Popen[bytes]") -> list[int]:
    """The process ids of the server's workers."""
    return [int(pid) for pid in Path(f"/proc/{server.pid}/task/{server.pid}/children").read_text().split()]


def peak_megabytes(pid: int) -> float:
    """The most memory a process has held so far, shared pages included."""
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1024


def cpu_seconds(pid: int) -> float:
    """Processor time a process has used."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def copied(url: str) -> float:
    """Rows a second at which COPY writes the readings there are into their own table, emptied before."""
    from fleet.models import Reading

    columns = ", ".join(str(field.column) for field in Reading._meta.concrete_fields if not field.primary_key)
    with psycopg.connect(url) as connection:
        with connection.cursor().copy(f"COPY fleet_reading ({columns}) TO STDOUT") as copy:
            rows = b"".join(copy)
        count = rows.count(b"\n")
        connection.execute("TRUNCATE fleet_reading CASCADE")
        connection.commit()
        began = time.perf_counter()
        with connection.cursor().copy(f"COPY fleet_reading ({columns}) FROM STDIN") as copy:
            for n in range(0, len(rows), 1 << 16):
                copy.write(rows[n : n + (1 << 16)])
        connection.commit()
        return count / (time.perf_counter() - began)


def plainly(batches: Batches, total: int) -> float:
    """Seconds that a ModelSerializer with its unique validators takes for the first `total` rows.

    What it can't do is done for it and not timed: the machine's id for its tag, its meter, its total hours.
    """
    from django.db import transaction
    from django_scopes import scope
    from rest_framework import serializers

    from fleet.models import Machine, MeterSegment, Organisation, Reading

    owner = Organisation.objects.get(slug="benchmark")

    class Plain(serializers.ModelSerializer):
        organisation = serializers.HiddenField(default=owner)
        sender = serializers.HiddenField(default="plain")

        class Meta:
            model = Reading
            fields = ["organisation", "sender", "machine", "taken_at", "shows", "client_id", "note"]

    with scope(organisation=owner):
        Reading.objects.all().delete()
        ids = dict(Machine.objects.values_list("tag", "pk"))
        meters = dict(MeterSegment.objects.values_list("machine", "pk"))
        same = {"state": "counted", "code": "ok", "source": "api"}
        seconds = 0.0
        for body in batches[0][: total // BATCH]:
            data = [row | {"machine": ids[row["machine"]]} for row in json.loads(body)["readings"]]
            began = time.perf_counter()
            with transaction.atomic():
                serializer = Plain(data=data, many=True)
                serializer.is_valid(raise_exception=True)
                Reading.objects.bulk_create(
                    Reading(**row, **same, segment_id=meters[row["machine"].pk], hours=row["shows"])
                    for row in serializer.validated_data
                )
            seconds += time.perf_counter() - began
    return seconds


def start_organisation(machines: int) -> list[str]:
    """Start an organisation with machines and a token for each yard's box; return the tokens' secrets."""
    from django_scopes import scope

    from fleet.accounts import api_tokens, organisations
    from fleet.models import Machine, MachineType, MeterSegment, Organisation, Yard

    began = STARTED - timedelta(days=400)

    organisation = Organisation(name="Benchmark", slug="benchmark")
    owner = organisations.start(
        organisation=organisation, owner_mail="owner@example.org", owner_name="Owner", yard_name="Yard 0"
    )
    secrets = []
    with scope(organisation=organisation):
        kind = MachineType.objects.create(
            organisation=organisation, maker="Haldane", model="HX 25", category="tractor"
        )
        for number in range(YARDS):
            yard, _ = Yard.objects.get_or_create(organisation=organisation, name=f"Yard {number}")
            of_yard = machines // YARDS
            made = Machine.objects.bulk_create(
                Machine(
                    organisation=organisation,
                    type=kind,
                    yard=yard,
                    tag=machine_tag(n),
                    in_service_on=began.date(),
                )
                for n in range(number * of_yard, (number + 1) * of_yard)
            )
            MeterSegment.objects.bulk_create(
                MeterSegment(organisation=organisation, machine=each, started_at=began) for each in made
            )
            _, secret = api_tokens.issue(name=f"box {number}", member=owner, device=True, yards=[yard])
            secrets.append(secret)
    return secrets


@contextmanager
def own_database(url: str) -> Iterator[str]:
    """An empty database beside the one named, for as long as it is needed."""
    name = f"hourmark_bench_{os.getpid()}"
    with psycopg.connect(url, autocommit=True) as administrator:
        administrator.execute(f'CREATE DATABASE "{name}"')
    try:
        yield urlunsplit(urlsplit(url)._replace(path=f"/{name}"))
    finally:
        from django.db import connections

        connections.close_all()
        with psycopg.connect(url, autocommit=True) as administrator:
            administrator.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def measured(order: str, options: argparse.Namespace, url: str) -> None:
    """Run everything in one order of batches and print its part of the table."""
    from django.core.management import call_command
    from django.db import connection
    from django_scopes import scopes_disabled

    from fleet.models import Reading

    call_command("flush", verbosity=0, interactive=False)
    secrets = start_organisation(options.machines)
    batches, shown = made(options.machines, options.readings // options.machines, order)
    tenth = len(batches[0]) // 10
    first, rest = [each[:tenth] for each in batches], [each[tenth:] for each in batches]
    rows, some = YARDS * BATCH * len(rest[0]), [each[:5] for each in rest]
    took = None
    with served(os.environ | {"HOURMARK_LOG_LEVEL": "WARNING"}) as (port, server):
        for n in range(8):  # each worker has loaded its modules before the clock runs
            for secret in secrets:
                Box(port, secret).send(b'{"readings": []}', f"warm-{n}")
        _, early = sent(port, secrets, first, "first")
        connection.cursor().execute("ANALYZE")
        before = sum(map(cpu_seconds, workers_of(server)))
        seconds, tally = sent(port, secrets, rest, "rest")
        used = sum(map(cpu_seconds, workers_of(server))) - before
        with scopes_disabled():
            kept = Counter(Reading.objects.values_list("state", flat=True))
        told = early + tally
        assert kept == {"counted": told["counted"], "held": told["held"]}, (kept, told)
        assert told.total() == YARDS * BATCH * len(batches[0]), told
        again, _ = sent(port, secrets, some, "rest")
        if order == "rounds":
            took = singles(port, secrets, shown, options.seconds)
        memory = max(map(peak_megabytes, workers_of(server)))
    copy = copied(url)
    plain = min(PLAIN_ROWS, rows) / plainly(batches, min(PLAIN_ROWS, rows))
    ours, replayed = rows / seconds, sum(map(len, some)) * BATCH / again
    print(f"\n{order}: {rows:,} readings of {options.machines:,} machines, {tally['held']:,} of them held")
    print(f"  over HTTP, everything on           {ours:8,.0f} rows/s")
    print(f"  (a) COPY into the same table       {copy:8,.0f} rows/s: ours is {ours / copy:.2f} of it")
    print(f"  (b) plain serializer, in process   {plain:8,.0f} rows/s: ours is {ours / plain:.1f} times it")
    print(f"  the first batches sent once more   {replayed:8,.0f} rows/s")
    print(f"  processor time of the workers      {used / rows * 1e6:8,.0f} µs a row")
    print(f"  most memory of a worker            {memory:8,.0f} MB")
    if took is not None:
        half, most, worst = np.percentile(took, [50, 95, 99])
        print(
            f"  single readings, {SINGLES_A_SECOND} a second       "
            f"p50 {half:.1f}, p95 {most:.1f}, p99 {worst:.1f} ms"
        )


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--machines", type=int, default=2000)
    parser.add_argument("--readings", type=int, default=200_000)
    parser.add_argument("--seconds", type=int, default=20, help="how long single readings are sent")
    parser.add_argument("--orders", nargs="+", choices=ORDERS, default=ORDERS)
    parser.add_argument("--database", default=os.environ.get("DATABASE_URL", ""))
    parser.add_argument("--redis", default=os.environ.get("REDIS_URL", ""))
    options = parser.parse_args()
    if not (options.database.startswith("postgres") and options.redis):
        print("no --database and --redis: the intake is not measured")
        return
    queue = redis.from_url(options.redis)
    if queue.dbsize():
        raise SystemExit(
            f"{options.redis} is not empty; name a database that nobody uses, it is emptied after"
        )
    with own_database(options.database) as url, tempfile.TemporaryDirectory() as folder:
        os.environ.update(
            DATABASE_URL=url,
            REDIS_URL=options.redis,
            HOURMARK_DATA=folder,
            DJANGO_SETTINGS_MODULE="config.settings",
        )
        import django

        django.setup()
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
        try:
            for order in options.orders:
                measured(order, options, url)
        finally:
            queue.flushdb()


if __name__ == "__main__":
    main()
