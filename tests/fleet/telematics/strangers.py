"""Cases of strangers: what a provider's server answered, and what a careful person would have read of it.

Each case is a folder under `cases/`: `case.json` and the bodies. They were written by people who hadn't seen
the code; who builds looks at those in `seen` alone. A case is read over real sockets, round after round, and
each unit that is expected gets an outcome: right, asked, refused, or WRONG.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from fixtures.telematics.server import Handler, Provider, Special
from fleet import readings
from fleet.models import MachineType, Member, Reading, TelematicsSource, TelematicsUnit
from fleet.readings import Submitted
from fleet.telematics import credentials
from fleet.telematics.poll import read
from fleet.telematics.questions import sides
from tests.factories import MachineFactory, MachineTypeFactory, TelematicsSourceFactory

CASES = Path(__file__).parent / "cases"
RIGHT, ASKED, REFUSED, WRONG = "right", "asked", "refused", "WRONG"
CENT = Decimal("0.011")  # hours; figures are kept to a hundredth


@dataclass(frozen=True)
class Outcome:
    """What became of one expectation of a case. unit: as the case calls it, '' for the source itself."""

    case: str
    round: int
    unit: str
    outcome: str
    said: str


def cases(part: str) -> list[Path]:
    """The folders of the cases of a part (`seen`, `apart`, `third`, `judge`), in the order of their names."""
    return sorted(each.parent for each in (CASES / part).glob("*/case.json"))


class Script:
    """Answers as a case's round says, in its order; the last answer to an address is given again."""

    def __init__(self, folder: Path, origin: Callable[[], str]) -> None:
        self._folder, self._origin = folder, origin
        self._left: list[dict[str, Any]] = []
        self._last: dict[str, dict[str, Any]] = {}

    def begin(self, responses: list[dict[str, Any]]) -> None:
        """Begin a round."""
        self._left, self._last = list(responses), {}

    def get(self, path: str) -> Special:
        """The answer to a path, as the provider's server asks for it."""
        found = next((each for each in self._left if each["match"] == path), None)
        if found is not None:
            self._left.remove(found)
            self._last[path] = found
        found = self._last.get(path, {"status": 404})
        return lambda handler: self._answer(handler, found)

    def _answer(self, handler: Handler, told: dict[str, Any]) -> None:
        base = self._origin()
        body = (self._folder / told["body"]).read_bytes() if told.get("body") else b""
        handler.send_response(told["status"])
        for name, value in told.get("headers", {}).items():
            if name.lower() not in ("content-length", "transfer-encoding"):
                handler.send_header(name, value.replace("{base}", base))
        body = body.replace(b"{base}", base.encode())
        handler.send_header("Content-Length", str(len(body)))
        handler.end_headers()
        handler.wfile.write(body)


def play(folder: Path, member: Member, yard: Any) -> list[Outcome]:
    """Play a case in the member's organisation, whose scope is open; return how each expectation ended."""
    case = json.loads((folder / "case.json").read_text(encoding="utf-8"))
    now = datetime.fromisoformat(case["now"])
    for facts in case["machines"]:
        _enter(facts, member, yard, now)
    outcomes: list[Outcome] = []
    expected: set[tuple[str, Decimal, datetime]] = set()
    with Provider(list) as provider:
        script = Script(folder, lambda: provider.origin)
        provider.special = script  # type: ignore[assignment]
        source = _source(case, member, provider.origin)
        for number, told in enumerate(case["rounds"], 1):
            script.begin(told["responses"])
            before = _counted()
            read(source=source, forced=True, now=now + timedelta(seconds=number))
            source.refresh_from_db()
            expected |= {_reading(unit) for unit in told["units"] if unit["outcome"] == "tied"}
            judge = _Judge(
                folder.name, number, source, told["source"] == "good", expected, _counted() - before
            )
            outcomes += judge.of(told)
    return outcomes


def _enter(facts: dict[str, Any], member: Member, yard: Any, now: datetime) -> None:
    machine_type = MachineType.objects.filter(
        maker__iexact=facts["maker"], model__iexact=facts["model"]
    ).first() or MachineTypeFactory.create(
        organisation=member.organisation, maker=facts["maker"], model=facts["model"]
    )
    machine = MachineFactory.create(
        organisation=member.organisation,
        yard=yard,
        type=machine_type,
        tag=facts["tag"],
        serial=facts.get("serial", ""),
        pin=facts.get("pin", ""),
    )
    rows = [Submitted(machine.pk, at, hours) for at, hours in facts["before"]]
    if rows:
        readings.take(organisation=member.organisation, rows=rows, source="page", sender="", now=now)


def _source(case: dict[str, Any], member: Member, origin: str) -> TelematicsSource:
    login = case.get("login", "none")
    start = case.get("start", "{base}/fleet/1").replace("{base}", origin)
    return TelematicsSourceFactory.create(
        organisation=member.organisation,
        url=start if start.startswith("http") else origin + start,
        login=login,
        username="alder" if login in ("basic", "client") else "",
        secret="" if login == "none" else credentials.lock("gate-4711"),
        token_url=f"{origin}/token" if login == "client" else "",
    )


def _counted() -> set[tuple[str, Decimal, datetime]]:
    """What telematics counts: machine, hours and moment of each reading."""
    told = Reading.objects.filter(source="telematics", state="counted")
    return set(told.values_list("machine__tag", "shows", "taken_at"))


def _reading(unit: dict[str, Any]) -> tuple[str, Decimal, datetime]:
    return unit["machine"], Decimal(unit["hours"]), datetime.fromisoformat(unit["at"]).astimezone(UTC)


def _alike(one: tuple[str, Decimal, datetime], other: tuple[str, Decimal, datetime]) -> bool:
    near = abs(one[1] - other[1]) <= CENT and abs(one[2] - other[2]) < timedelta(seconds=1)
    return one[0] == other[0] and near


@dataclass
class _Judge:
    case: str
    round: int
    source: TelematicsSource
    good: bool
    expected: set[tuple[str, Decimal, datetime]]
    new: set[tuple[str, Decimal, datetime]]

    def of(self, told: dict[str, Any]) -> list[Outcome]:
        made = [*self._of_source(told)]
        for unit in told["units"]:
            outcome, said = self._of_unit(unit)
            made.append(Outcome(self.case, self.round, unit["is"], outcome, said))
        for each in self.new:
            if not any(_alike(each, expected) for expected in self.expected):
                said = f"counted {each[1]} h of {each[2]:%Y-%m-%d %H:%M} on {each[0]}, which nobody would"
                made.append(Outcome(self.case, self.round, "", WRONG, said))
        return made

    def _of_source(self, told: dict[str, Any]) -> list[Outcome]:
        failed = self.source.state == "failing"
        said = self.source.error if failed else self.source.outcome
        if self.good:
            outcome = REFUSED if failed and said else RIGHT
        elif not failed:
            outcome = WRONG
        else:
            missing = [words for words in told.get("says", []) if words.lower() not in said.lower()]
            outcome, said = (WRONG, f"doesn't say {missing}: {said}") if missing else (RIGHT, said)
        return [Outcome(self.case, self.round, "", outcome, said)]

    def _of_unit(self, unit: dict[str, Any]) -> tuple[str, str]:
        if self.good and self.source.state == "failing":
            return (REFUSED, self.source.error) if not self.new else (WRONG, "failed, and counted something")
        found = self._found(unit["is"])
        if unit["outcome"] == "no hours":
            mine = [each for each in self.new if found and found.machine and each[0] == found.machine.tag]
            mine = [each for each in mine if not any(_alike(each, expected) for expected in self.expected)]
            return (WRONG, f"counted {mine}") if mine else (RIGHT, _words(found))
        if unit["outcome"] == "waits":
            return self._waits(unit, found)
        wanted = _reading(unit)
        if any(_alike(each, wanted) for each in _counted()):
            return RIGHT, ""
        if found is None:
            return WRONG, "lost"
        if found.machine is None:
            asks = found.hint or found.hours
            return (ASKED, f"waits: {found.hint}") if asks else (WRONG, "waits without a word")
        if found.machine.tag != wanted[0]:
            return WRONG, f"is linked to {found.machine}"
        held = found.receipt in ("held", "refused") and found.receipt_reason
        return (ASKED, found.receipt_reason) if held else (WRONG, f"linked, not counted: {found.receipt}")

    def _waits(self, unit: dict[str, Any], found: TelematicsUnit | None) -> tuple[str, str]:
        if found is None:
            return (RIGHT, self.source.error) if not self.good else (WRONG, "lost")
        if found.machine_id is not None:
            return WRONG, f"is linked to {found.machine}"
        said = _words(found)
        missing = [each for each in unit.get("mentions", []) if each.lower() not in said.lower()]
        return (WRONG, f"doesn't mention {missing}: {said}") if missing else (RIGHT, said)

    def _found(self, called: str) -> TelematicsUnit | None:
        units = TelematicsUnit.objects.select_related("machine", "proposed__type").order_by("-seen_at", "pk")
        for unit in units:
            if called in (unit.equipment_id, unit.serial, unit.pin):
                return unit
        return None


def _words(unit: TelematicsUnit | None) -> str:
    """All that is said of a unit where a person sees it."""
    if unit is None:
        return ""
    told = [unit.hint, unit.receipt_reason, str(unit.machine or ""), str(unit.proposed or "")]
    told += [f"{side.called}: {side.sent} / {side.before} / {side.recorded}" for side in sides(unit)]
    return " | ".join(each for each in told if each)
