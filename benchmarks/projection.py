"""How fast hours become dates: from arrays, and from a filled PostgreSQL through the nightly job.

    python benchmarks/projection.py [--machines 1000 10000 50000] [--rival]
    python benchmarks/projection.py --database postgres://... [--job-machines 1000 10000]

Arrays: machines x 60 readings x 25 marks, from readings to early, likely and late, on one core. The job: the
same as rows in a database of its own (made beside the one named, dropped after), through the Celery task's
function, each size in a process of its own: a night with nothing written before, one when nothing changed,
one after every machine was read again. Seconds hold all waiting, also for other programs; "own CPU" and "its
CPU" (of the database's process) don't.

--rival also fits AutoETS of statsforecast to the same histories, on all cores; it answers a smaller question
(weekly hours ahead, no date) and is timed on 200 machines. Hourmark doesn't depend on it. Install it for the
benchmark alone, in an environment of its own that needs no more than it and scipy:

    python -m venv /tmp/rival && /tmp/rival/bin/pip install statsforecast scipy
    /tmp/rival/bin/python benchmarks/projection.py --rival
"""

import argparse
import os
import resource
import sys
import time
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fleet.usage import crossing, history, pace

READINGS, TASKS, TYPES = 60, 25, 12
RIVAL_MACHINES = 200
NIGHTS = ("nothing there yet", "nothing changed", "every machine read again")


def made(machines: int, seed: int = 7) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Readings of so many machines, end to end: machine, day, hours."""
    chance = np.random.default_rng(seed)
    days = np.cumsum(chance.integers(2, 10, (machines, READINGS)), axis=1)
    rate = chance.gamma(2.0, 1.5, (machines, 1))
    run = chance.gamma(2.0, 0.5, (machines, READINGS)) * rate * np.diff(days, axis=1, prepend=0)
    hours = np.round(np.cumsum(np.minimum(run, 20.0 * np.diff(days, axis=1, prepend=0)), axis=1), 1)
    return np.repeat(np.arange(machines), READINGS), days.ravel().astype(float), hours.ravel()


def from_arrays(machines: int) -> float:
    """Seconds from readings to the three days of every mark."""
    machine, day, hours = made(machines)
    began = time.perf_counter()
    increments = history.increments(machine=machine, day=day, hours=hours, machines=machines)
    usage = pace.estimate(increments, machine_type=np.arange(machines) % TYPES, as_of=day.max())
    crossing.first_passage(
        usage,
        machine=np.repeat(np.arange(machines), TASKS),
        remaining=np.tile(np.linspace(5, 900, TASKS), machines),
    )
    return time.perf_counter() - began


def rival(machines: int) -> float:
    """Seconds that AutoETS takes for so many machines' weekly hours, on all cores."""
    import pandas
    from statsforecast import StatsForecast
    from statsforecast.models import AutoETS

    machine, day, hours = made(machines)
    weeks = []
    for n in range(machines):
        own = machine == n
        grid = np.arange(day[own][0], day[own][-1], 7.0)
        weekly = np.diff(np.interp(grid, day[own], hours[own]))
        weeks.append(pandas.DataFrame({"unique_id": n, "ds": np.arange(len(weekly)), "y": weekly}))
    frame = pandas.concat(weeks)
    forecast = StatsForecast(models=[AutoETS(season_length=1)], freq=1, n_jobs=os.cpu_count() or 1)
    forecast.forecast(df=frame[frame["unique_id"] < 4], h=26, level=[80])  # compile first
    began = time.perf_counter()
    forecast.forecast(df=frame, h=26, level=[80])
    return time.perf_counter() - began


FILL = """
INSERT INTO fleet_reading (organisation_id, machine_id, segment_id, taken_at, shows, hours, state, code,
                           reason, source, sender, received_at, note, decision)
SELECT {organisation}, m.id, s.id, now() - interval '6 days' * ({readings} - r), ran, ran, 'counted', 'ok',
       '', 'api', 'benchmark', now(), '', ''
FROM fleet_machine m JOIN fleet_metersegment s ON s.machine_id = m.id, generate_series(1, {readings}) r,
     LATERAL (SELECT round((r * (6 + m.id % 17) + (m.id * r) % 5)::numeric, 1) AS ran) made;
UPDATE fleet_machine m SET (hours, hours_at) =
    (SELECT max(r.hours), max(r.taken_at) FROM fleet_reading r WHERE r.machine_id = m.id);
ANALYZE;
"""


READ_AGAIN = """
INSERT INTO fleet_reading (organisation_id, machine_id, segment_id, taken_at, shows, hours, state, code,
                           reason, source, sender, received_at, note, decision)
SELECT organisation_id, machine_id, segment_id, now(), hours + 9, hours + 9, 'counted', 'ok',
       '', 'api', 'benchmark', now(), '', ''
FROM (SELECT DISTINCT ON (machine_id) * FROM fleet_reading ORDER BY machine_id, taken_at DESC) last;
UPDATE fleet_machine m SET (hours, hours_at) =
    (SELECT max(r.hours), max(r.taken_at) FROM fleet_reading r WHERE r.machine_id = m.id);
"""


def through_the_job(machines: int, url: str) -> list[tuple[float, float, float, int]]:
    """Seconds, those of this process's CPU and of the database's, and duties written in three nights.

    One with nothing there, one with nothing changed, one after every machine was read again.
    """
    import psycopg

    own = urlunsplit(urlsplit(url)._replace(path=f"/hourmark_bench_{os.getpid()}"))
    name = urlsplit(own).path[1:]
    with psycopg.connect(url, autocommit=True) as administrator:
        administrator.execute(f'CREATE DATABASE "{name}"')
    try:
        return _job(machines, own)
    finally:
        from django.db import connections

        connections.close_all()
        with psycopg.connect(url, autocommit=True) as administrator:
            administrator.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def _job(machines: int, url: str) -> list[tuple[float, float, float, int]]:
    os.environ.update(DATABASE_URL=url, DJANGO_SETTINGS_MODULE="config.settings")
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import connection
    from django.utils import timezone
    from django_scopes import scope

    from fleet.models import Machine, MachineType, MeterSegment, Organisation, Yard
    from servicing.models import Duty, Interval, ProgramVersion, ServiceProgram, Task
    from servicing.tasks import project_organisation

    call_command("migrate", verbosity=0)
    farm = Organisation.objects.create(name="Benchmark", slug="benchmark")
    with scope(organisation=farm):
        yard = Yard.objects.create(organisation=farm, name="Yard")
        kinds = [
            MachineType.objects.create(organisation=farm, maker="Haldane", model=f"HX {n}", category="other")
            for n in range(TYPES)
        ]
        for kind in kinds:
            program = ServiceProgram.objects.create(
                organisation=farm, machine_type=kind, code=f"p{kind.pk}", title="P"
            )
            version = ProgramVersion.objects.create(
                organisation=farm,
                program=program,
                number=1,
                state="current",
                made_at=timezone.now(),
            )
            for n in range(TASKS):
                task = Task.objects.create(
                    organisation=farm, version=version, code=f"t{n}", title="T", position=n
                )
                Interval.objects.create(
                    organisation=farm, task=task, every_hours=50 * (1 + n % 8), every_months=12
                )
        owned = Machine.objects.bulk_create(
            Machine(
                organisation=farm,
                type=kinds[n % TYPES],
                yard=yard,
                tag=f"M{n}",
                in_service_on=farm.today() - timedelta(days=500),
            )
            for n in range(machines)
        )
        start = timezone.now() - timedelta(days=500)
        MeterSegment.objects.bulk_create(
            MeterSegment(organisation=farm, machine=machine, started_at=start) for machine in owned
        )
        with connection.cursor() as cursor:
            cursor.execute(FILL.format(organisation=farm.pk, readings=READINGS))
    nights = []
    for change in ("", "", READ_AGAIN):
        with connection.cursor() as cursor:
            if change:
                cursor.execute(change)
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_backend_pid()")
            server = cursor.fetchone()[0]
        began, busy, serving = time.perf_counter(), time.process_time(), cpu_of(server)
        written = project_organisation(organisation_id=farm.pk)
        spent = (time.perf_counter() - began, time.process_time() - busy, cpu_of(server) - serving)
        nights.append((*spent, written))
    with scope(organisation=farm):
        assert Duty.objects.count() == machines * TASKS
    # a second night is some minutes after the first, and a few days turn over
    assert nights[1][3] <= nights[0][3] / 500, f"nothing changed, yet {nights[1][3]} duties were written"
    return nights


def cpu_of(process: int) -> float:
    """Seconds of CPU that a process of this machine has used; NaN where it isn't one (proc(5), stat)."""
    stat = Path(f"/proc/{process}/stat")
    if not stat.exists() or "postgres" not in stat.read_text():
        return float("nan")
    fields = stat.read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _alone(machines: int, url: str) -> list[str]:
    """The command that measures one size of the job in a process of its own, for its own peak of memory."""
    return [sys.executable, __file__, "--job-alone", str(machines), "--database", url]


def tell_job(machines: int, url: str) -> None:
    """Measure and print one size of the job."""
    nights = through_the_job(machines, url)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"\nthe nightly job, {machines:,} machines x {TASKS} tasks due on PostgreSQL, peak {peak:.0f} MB")
    print(f"  {'':28}{'seconds':>9}{'per 10,000':>12}{'own CPU':>10}{'its CPU':>10}{'written':>10}")
    for title, (seconds, busy, serving, written) in zip(NIGHTS, nights, strict=True):
        per = seconds * 10000 / machines
        print(f"  {title:28}{seconds:9.1f}{per:12.1f}{busy:10.1f}{serving:10.1f}{written:10,}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--machines", type=int, nargs="+", default=[1000, 10000, 50000])
    parser.add_argument("--job-machines", type=int, nargs="+", default=[1000, 10000])
    parser.add_argument("--job-alone", type=int, help=argparse.SUPPRESS)
    parser.add_argument("--database", default=os.environ.get("DATABASE_URL", ""))
    parser.add_argument("--rival", action="store_true")
    options = parser.parse_args()
    if options.job_alone:
        tell_job(options.job_alone, options.database)
        return
    from_arrays(100)  # imports and first calls are not measured
    print(f"{'arrays to dates':28}{'seconds':>10}{'per 10,000':>12}")
    per = 0.0
    for machines in options.machines:
        seconds = min(from_arrays(machines) for _ in range(3))
        per = seconds * 10000 / machines
        print(f"{machines:>9,} machines x 25     {seconds:10.3f}{per:12.3f}", flush=True)
    if options.rival:
        theirs = rival(RIVAL_MACHINES) / RIVAL_MACHINES
        print(f"{'AutoETS on ' + str(os.cpu_count()) + ' cores':28}{'':10}{theirs * 10000:12.1f}")
        times = theirs / per * 10000
        print(f"seconds a machine: AutoETS {theirs:.4f}, ours {per / 10000:.6f}; {times:,.0f} times ours")
    if options.database:
        for machines in options.job_machines:
            measured = os.spawnv(os.P_WAIT, sys.executable, _alone(machines, options.database))
            if measured:
                sys.exit(measured)
    else:
        print("\nno --database: the nightly job is not measured")


if __name__ == "__main__":
    main()
