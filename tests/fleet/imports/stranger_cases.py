"""Files as strangers write them: each sent as a person would, what is asked answered, and compared.

A case says which machines there are, what their meters showed before, and every reading that a careful person
would take from the file. See `cases/README.md`.
"""

import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time
from decimal import Decimal
from itertools import product
from pathlib import Path
from zoneinfo import ZoneInfo

from django.core.files.uploadedfile import SimpleUploadedFile

from fleet import readings, tasks
from fleet.core.errors import FleetError
from fleet.imports import sample, uploads
from fleet.imports.cell_days import FIRST_DAY, LAST_DAY
from fleet.imports.column_mapping import figures
from fleet.imports.fleet import Fleet
from fleet.imports.plan import ABOVE, FIRST, WITHIN, YEAR, Plan
from fleet.imports.rows import NO, YES
from fleet.models import MeterSegment, Reading, RejectedRow, SentFile

CASES = Path(__file__).parent / "cases"
RIGHT, ANSWERED, ASKED, REFUSED, WRONG = "right", "answered", "asked", "refused", "wrong"
MOST_QUESTIONS = 12
NEAR = Decimal("0.006")  # hours: the house keeps hundredths
Taken = tuple[str, date, Decimal]


@dataclass
class Score:
    """How the rows of one case came out, and what was wrong, in words."""

    name: str
    rows: Counter = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    questions: list[str] = field(default_factory=list)

    @property
    def total(self) -> int:
        return self.rows.total()


def cases() -> Iterator[tuple[str, Path, dict]]:
    """Name, file and what it says of each case that is there."""
    for said in sorted(CASES.glob("*/*.json")):
        for path in sorted(said.parent.glob(f"{said.stem}.*")):
            if path != said:
                yield f"{said.parent.name}/{said.stem}", path, json.loads(said.read_text(encoding="utf-8"))


def score(house, name: str, path: Path, case: dict) -> Score:
    """Play a case through in an organisation that has nothing yet, and compare."""
    house.organisation.zone = case["zone"]
    house.organisation.save()
    house.yard.organisation = house.organisation
    _machines(house, case)
    before = set(Reading.objects.values_list("pk", flat=True))
    upload = SimpleUploadedFile(path.name, path.read_bytes())
    sent = uploads.receive(upload=upload, member=house.manager)
    tasks.read_file(sent_id=sent.pk, organisation_id=house.organisation.pk)
    sent.refresh_from_db()
    expected = [
        (row["machine"], date.fromisoformat(row["on"]), Decimal(row["hours"])) for row in case["rows"]
    ]
    found = Score(name)
    if sent.state != SentFile.State.WAITING:
        found.rows[REFUSED] += len(expected)
        found.questions.append(sent.fault)
        return found
    plan, found.questions = answered(sent, case, expected)
    try:
        uploads.start(sent=sent, plan=plan, member=house.manager)
    except FleetError as error:
        found.rows[ASKED] += len(expected)
        found.questions.append(error.sentence)
        return found
    uploads.run(sent.pk)
    _compare(found, case, expected, before, sent)
    if case.get("must_ask") and not found.questions and found.rows[RIGHT] + found.rows[WRONG]:
        found.rows[WRONG] += 1
        found.faults.append(f"counted without asking: {case['must_ask']}")
    return found


def answered(sent: SentFile, case: dict, expected: list[Taken]) -> tuple[Plan, list[str]]:
    """The plan with every question of the product answered as the case says: so that most of it comes out."""
    plan, asked = uploads.plan_of(sent), []
    while questions := [*plan.open, *([FIRST] if FIRST in plan.asks and not plan.first else [])]:
        asked += questions
        answer = _best(sent, plan, questions, case, set(expected))
        if answer is None or len(asked) > MOST_QUESTIONS:
            return plan, asked  # nothing in it is a reading: the person leaves it
        plan = answer
    return plan, asked


def _best(sent: SentFile, plan: Plan, questions: list[str], case: dict, wanted: set[Taken]) -> Plan | None:
    zone, fleet = ZoneInfo(case["zone"]), Fleet.of(sent.organisation)
    columns = list(range(max(len(row.cells) for row in sample.kept(sent.sample))))
    choices: dict[str, list] = {
        "machine": columns,
        "taken_at": columns,
        "hours": list(plan.between) or columns,
        "order": ["dmy", "mdy", "ymd"],
        "decimal": [".", ","],
        YEAR: [2024, 2025, 2026],
        WITHIN: [LAST_DAY, FIRST_DAY],
        ABOVE: [YES, NO],
        FIRST: [True],
    }
    best, most = None, -1
    for values in product(*(choices[ask] for ask in questions)):
        answers = dict(zip(questions, values, strict=True))
        tried = replace(plan, **answers)
        if tried.columns != plan.columns:
            answers.pop(FIRST, None)  # asked again below the new columns
            tried = uploads.with_columns(sent, tried)
            tried = replace(tried, **answers)
        legible = replace(tried, order=tried.order or "dmy", decimal=tried.decimal or ".", within=LAST_DAY)
        seen = set()
        for each in figures(legible, uploads.first_rows(sent, replace(legible, above=YES)), fleet):
            tag = getattr(each.machine, "tag", each.machine)
            seen.add((tag, each.at.astimezone(zone).date(), round(each.shows, 2)))
        if (many := len(seen & wanted)) > most:
            best, most = tried, many
    return best if most > 0 or not set(questions) & {"hours"} else None


def _machines(house, case: dict) -> None:
    for each in case["machines"]:
        machine = house.machine(tag=each["tag"], serial=each["serial"])
        MeterSegment.objects.filter(machine=machine).update(started_at=datetime(2000, 1, 1, tzinfo=UTC))
        type(machine).objects.filter(pk=machine.pk).update(in_service_on=date(2000, 1, 1))
        zone = ZoneInfo(case["zone"])
        rows = [
            readings.Submitted(machine.pk, datetime.combine(date.fromisoformat(day), time(12), zone), hours)
            for day, hours in each["before"]
        ]
        receipts = readings.take(organisation=house.organisation, rows=rows, source="page", sender="page")
        assert [receipt.state for receipt in receipts] == ["counted"] * len(rows), each


def _compare(found: Score, case: dict, expected: list[Taken], before: set, sent: SentFile) -> None:
    zone = ZoneInfo(case["zone"])
    new = Reading.objects.exclude(pk__in=before).select_related("machine")
    taken = {(r.machine.tag, r.taken_at.astimezone(zone).date(), r.shows): r for r in new}
    counted = {key for key, reading in taken.items() if reading.state == "counted"}
    either = {
        (r["machine"], date.fromisoformat(r["on"]), Decimal(r["hours"])) for r in case.get("either", ())
    }
    for key in (each for each in counted if not _any_near(each, {*expected, *either})):
        found.rows[WRONG] += 1
        found.faults.append(f"counted, but not expected: {key[0]} {key[1]} {key[2]}")
    times = {
        (row["machine"], date.fromisoformat(row["on"]), Decimal(row["hours"])): row.get("time")
        for row in case["rows"]
    }
    reasons = list(RejectedRow.objects.filter(file=sent).values_list("reason", "cells"))
    rejected = Counter(reason for reason, _cells in reasons)
    assert all(rejected), "a row was rejected without a reason"
    for key in dict.fromkeys(expected):
        near = _any_near(key, counted) or _any_near(key, taken)
        reading = taken[near] if near else None
        if reading is not None and near in counted:
            at = reading.taken_at.astimezone(zone)
            if times[key] and f"{at:%H:%M}" != times[key]:
                found.rows[WRONG] += 1
                found.faults.append(f"counted at {at:%H:%M}, not {times[key]}: {key}")
            else:
                found.rows[ANSWERED if found.questions else RIGHT] += 1
        elif reading is not None:
            found.rows[ASKED] += 1  # held: a person decides
        elif _rejected(key, reasons):
            found.rows[REFUSED] += 1
        else:
            found.rows[WRONG] += 1
            found.faults.append(f"neither counted nor rejected: {key[0]} {key[1]} {key[2]}")
    sent.refresh_from_db()
    assert sent.counted + sent.held + sent.duplicate + sent.refused == sent.rows == sent.done


def _any_near(key: Taken, among: Iterable[Taken]) -> Taken | None:
    return next((each for each in among if each[:2] == key[:2] and abs(each[2] - key[2]) <= NEAR), None)


def _rejected(key: Taken, reasons: list[tuple[str, list[str]]]) -> bool:
    """Whether a rejected row holds the figure of a reading."""
    whole = int(key[2])
    plain = (f"{whole}", f"{whole:,}", f"{whole:,}".replace(",", "."), f"{whole:,}".replace(",", " "))
    spaced = [[re.sub(r"\s", " ", cell) for cell in cells] for _reason, cells in reasons]
    return any(any(figure in cell for figure in plain for cell in cells) for cells in spaced)


def table(scores: list[Score]) -> str:
    """The scores as lines of text, all of them added up below."""
    kinds = (RIGHT, ANSWERED, ASKED, REFUSED, WRONG)
    lines = [f"{'case':<52}" + "".join(f"{kind:>10}" for kind in kinds) + "  asked"]
    total: Counter[str] = Counter()
    for each in scores:
        total += each.rows
        lines.append(
            f"{each.name:<52}"
            + "".join(f"{each.rows[kind]:>10}" for kind in kinds)
            + "  "
            + ", ".join(each.questions)
        )
        lines += [f"    {fault}" for fault in each.faults]
    lines.append(f"{'all':<52}" + "".join(f"{total[kind]:>10}" for kind in kinds))
    return "\n".join(lines)
