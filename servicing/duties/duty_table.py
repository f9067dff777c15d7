"""The rows of duties as columns of numbers, for a refresh of many machines: read, compared and written.

Days are days since 1970, hours are total hours, NaN is null. Hours have two decimals, so that a double holds
each of them in one way only and equal figures are equal.
"""

from collections.abc import Collection, Iterator, Mapping
from datetime import datetime
from decimal import Decimal
from functools import partial
from typing import Any

import numpy as np
from django.db import connections, transaction
from django.db.models import IntegerField
from django.db.models.functions import Cast

from fleet.core import column_arrays
from fleet.core.column_arrays import Floats
from fleet.usage.days import date_of
from servicing.models import Duty

Rows = dict[str, Floats]

WORK = ("last_hours", "last_on", "met_hours", "met_on", "unknown_on")
MARKS = ("task", "active", "mark_hours", "mark_on", "forward_hours", "rule_hours", "forward_check")
COLUMNS = {"task": "task_id", "forward_check": "forward_check_id"}  # where they aren't named as the fields
DAYS = ("early", "likely", "late")
DATES = ("mark_on", *DAYS)
SETTABLE = (*MARKS, *DAYS)


def read(machine_ids: Collection[int]) -> Rows:
    """The machines' duties; those that hold now last, and of these the newest version's."""
    duties = Duty.objects.filter(machine__in=machine_ids).order_by("active", "task__version__number", "pk")
    dates = {name: column_arrays.Days(name) for name in (*DATES, "last_on", "met_on", "unknown_on")}
    hours = {name: name for name in ("mark_hours", "forward_hours", "rule_hours", "last_hours", "met_hours")}
    return column_arrays.read(
        duties,
        id="pk",
        machine="machine_id",
        task="task_id",
        active=Cast("active", IntegerField()),
        forward_check="forward_check_id",
        **dates,
        **hours,
    )


def differing(before: Rows, after: Rows) -> np.ndarray:
    """Which rows a refresh has to write, as a bool array."""
    changed = np.zeros(len(before["id"]), bool)
    for name in SETTABLE:
        one, other = before[name], after[name]
        changed |= (one != other) & ~(np.isnan(one) & np.isnan(other))
    return changed


def write(
    *,
    created: Rows,
    changed: Rows,
    before: Rows,
    reasons: Mapping[tuple[int, int], str],
    organisation_id: int,
    now: datetime,
) -> tuple[int, set[int]]:
    """Store what no work has overtaken since it was read; return how many, and the overtaken machines.

    before: the changed rows as they were read, in the same order. reasons: why a mark came forward, by
    machine and task.
    """
    if not len(created["machine"]) and not len(changed["id"]):
        return 0, set()
    store = _by_copy if connections[Duty.objects.db].vendor == "postgresql" else _by_row
    with transaction.atomic():
        unmoved = np.isin(changed["id"], store(created, changed, before, reasons, organisation_id, now))
    overtaken = set(changed["machine"][~unmoved].astype(int).tolist())
    overtaken -= set(changed["machine"][unmoved].astype(int).tolist())
    return len(created["machine"]) + int(unmoved.sum()), overtaken


def _by_copy(
    created: Rows,
    changed: Rows,
    before: Rows,
    reasons: Mapping[tuple[int, int], str],
    organisation_id: int,
    now: datetime,
) -> list[int]:
    """Through temporary tables: PostgreSQL copies them in, and one statement each writes their rows."""
    using = Duty.objects.db
    values = {name: f"NULLIF(s.{name}, 'NaN')" for name in SETTABLE}
    values |= {name: f"DATE '1970-01-01' + {values[name]}::int" for name in DATES}
    values |= {name: f"{values[name]}::bigint" for name in COLUMNS} | {"active": "s.active = 1"}
    with connections[using].cursor() as cursor:
        if len(created["machine"]):
            column_arrays.stage(
                "made_duty", {name: created[name] for name in ("machine", *SETTABLE)}, using=using
            )
            fields = ", ".join(COLUMNS.get(name, name) for name in SETTABLE)
            cursor.execute(
                f"INSERT INTO servicing_duty (organisation_id, machine_id, {fields}, forward_reason,"
                " deferred_reason, projected_at)"
                f" SELECT %s, s.machine::bigint, {', '.join(values[name] for name in SETTABLE)}, '', '', %s"
                " FROM made_duty s ON CONFLICT (machine_id, task_id)"
                " DO UPDATE SET projected_at = excluded.projected_at",
                [organisation_id, now],
            )
        if len(changed["id"]):
            old = {f"old_{name}": before[name] for name in (*MARKS, *WORK)}
            column_arrays.stage(
                "changed_duty", {name: changed[name] for name in ("id", *SETTABLE)} | old, using=using
            )
            same = " AND ".join(f"{now_} IS NOT DISTINCT FROM {then}" for now_, then in _compared())
            # locked in one order everywhere, and read again where another has just written them
            cursor.execute(
                "SELECT d.id FROM servicing_duty d JOIN changed_duty s ON d.id = s.id::bigint"
                f" WHERE {same} ORDER BY d.id FOR UPDATE OF d"
            )
            unmoved = [pk for (pk,) in cursor.fetchall()]
            assigned = ", ".join(f"{COLUMNS.get(name, name)} = {values[name]}" for name in SETTABLE)
            some = "" if len(unmoved) == len(changed["id"]) else " AND d.id = ANY(%s)"
            cursor.execute(
                f"UPDATE servicing_duty d SET {assigned}, forward_reason = '', projected_at = %s"
                f" FROM changed_duty s WHERE d.id = s.id::bigint{some}",
                [now, unmoved] if some else [now],
            )
        else:
            unmoved = []
        if reasons:
            machines, tasks = zip(*reasons, strict=True)
            cursor.execute(
                "UPDATE servicing_duty d SET forward_reason = r.reason"
                " FROM unnest(%s::bigint[], %s::bigint[], %s::text[]) AS r (machine, task, reason)"
                " WHERE d.machine_id = r.machine AND d.task_id = r.task AND d.forward_hours IS NOT NULL",
                [list(machines), list(tasks), list(reasons.values())],
            )
    return unmoved


def _compared() -> Iterator[tuple[str, str]]:
    """What must not have moved since it was read: as it is in the table, and as it was read."""
    yield "d.task_id", "s.old_task::bigint"
    yield "d.active", "(s.old_active = 1)"
    for name in (*MARKS[2:], *WORK):
        then = f"NULLIF(s.old_{name}, 'NaN')"
        if name.endswith("_on"):
            yield f"d.{name}", f"DATE '1970-01-01' + {then}::int"
        else:
            yield f"d.{COLUMNS.get(name, name)}::float8", then


def _by_row(
    created: Rows,
    changed: Rows,
    before: Rows,
    reasons: Mapping[tuple[int, int], str],
    organisation_id: int,
    now: datetime,
) -> list[int]:
    """Row by row, as any database takes them."""
    made = partial(_duty, reasons=reasons, organisation_id=organisation_id, now=now)
    Duty.objects.bulk_create(
        [made(created, at) for at in range(len(created["machine"]))],
        update_conflicts=True,
        unique_fields=["machine", "task"],
        update_fields=["projected_at"],
    )
    stored = read(changed["machine"].astype(int).tolist())
    place = {int(pk): at for at, pk in enumerate(stored["id"])}
    unmoved = [
        at
        for at, pk in enumerate(changed["id"].tolist())
        if (there := place.get(int(pk))) is not None
        and all(_equal(stored[name][there], before[name][at]) for name in (*MARKS, *WORK))
    ]
    Duty.objects.bulk_create(
        [made(changed, at) for at in unmoved],
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=[*SETTABLE, "forward_reason", "projected_at"],
    )
    return [int(changed["id"][at]) for at in unmoved]


def _duty(
    rows: Rows, at: int, *, reasons: Mapping[tuple[int, int], str], organisation_id: int, now: datetime
) -> Duty:
    machine, task = int(rows["machine"][at]), int(rows["task"][at])
    known: dict[str, Any] = {name: date_of(float(rows[name][at])) for name in DATES}
    for name in ("mark_hours", "forward_hours", "rule_hours"):
        known[name] = hours_of(float(rows[name][at]))
    if rows["forward_check"][at] == rows["forward_check"][at]:
        known["forward_check_id"] = int(rows["forward_check"][at])
    if "id" in rows:
        known["pk"] = int(rows["id"][at])
    return Duty(
        organisation_id=organisation_id,
        machine_id=machine,
        task_id=task,
        active=bool(rows["active"][at]),
        forward_reason=reasons.get((machine, task), "") if known["forward_hours"] is not None else "",
        projected_at=now,
        **known,
    )


def hours_of(hours: float) -> Decimal | None:
    """Hours as they are stored; None for NaN."""
    return None if hours != hours else Decimal(f"{hours:.2f}")


def _equal(one: float, other: float) -> bool:
    return bool(one == other or (one != one and other != other))
