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
import os
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import numpy as np
import psycopg
import redis

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.sending.boxes import (
    BATCH,
    SINGLES_A_SECOND,
    STARTED,
    YARDS,
    Box,
    machine_tag,
    made,
    sent,
    singles,
)
from benchmarks.sending.comparisons import copied, plainly
from benchmarks.sending.server import cpu_seconds, peak_megabytes, served, workers_of

PLAIN_ROWS = 4_000
ORDERS = ("rounds", "histories")


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
