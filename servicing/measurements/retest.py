"""Safety checks that failed and haven't passed since; the re-test that gives a machine back to use."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django_scopes import scope

from fleet.core.errors import FleetError
from fleet.core.permission import require
from fleet.machines import tag_outs
from fleet.models import Machine, Member, TagOut
from servicing.measurements import limits
from servicing.models import Check, CheckResult, SafetyFailure, Task, WorkOrder

KEPT = (
    *("organisation_id", "check_made_id", "kind", "label", "safety"),
    *("unit", "lower", "upper", "target", "choices"),
    *(*SafetyFailure.VALUES, "found_passes", "left_passes"),
)


@dataclass(frozen=True)
class ReTest:
    """A failed check made again: the value as typed, or the word; a blank unit is the limit's."""

    typed: str
    unit: str = ""


def is_grave(check: Check) -> bool:
    """Return whether a check that fails keeps its machine from use: a safety check, or its task says so."""
    return check.safety or check.task.outside == Task.Outside.TAG_OUT


def note(
    *, order: WorkOrder, failed: Iterable[CheckResult], member: Member, now: datetime, stale: bool = False
) -> None:
    """Keep checks that failed, and tag out what they failed on, in the caller's transaction.

    A machine that is tagged out for that check already isn't tagged out once more; nor is it for a value that
    stays as it was recorded, once somebody has made the check again. The results may be unsaved, and aren't
    those recorded yet. stale: they came with entries made on an older state of the order, so that where it
    has been recorded since how the check was left, they don't speak against that.
    """
    new = [result for result in failed if not _is_known(result, stale)]
    reasons: dict[int, tuple[Machine, list[str]]] = {}
    for result in new:
        machine = result.line.machine
        if not _stands(result, machine):
            reasons.setdefault(machine.pk, (machine, []))[1].append(said(result))
        SafetyFailure.objects.create(
            machine=machine,
            order=order,
            line=result.line,
            recorded_by=member,
            recorded_at=now,
            **{name: getattr(result, name) for name in KEPT},
        )
    for machine, told in reasons.values():
        reason = _("{order}, check failed: {values}").format(order=order, values="; ".join(told))
        tag_outs.place(machine=machine, reason=reason, member=member)


def failing(machine: Machine) -> list[SafetyFailure]:
    """Return, for each check of a machine that failed and wasn't made again since, how it failed last.

    The newest first. Only the re-test that clearing a tag-out asks for passes it.
    """
    rows = SafetyFailure.objects.filter(machine=machine, re_tested_at=None)
    latest: dict[tuple[tuple[str, object], ...], SafetyFailure] = {}
    for row in rows.select_related("order", "line", "recorded_by__user", "check_made__task__version"):
        latest.setdefault(tuple(_same_as(row).items()), row)
    return list(latest.values())


def clear(*, tag_out: TagOut, reason: str, re_tests: Mapping[int, ReTest], member: Member) -> TagOut:
    """Clear a tag-out in the member's name, once every failed safety check has been made again and passed.

    re_tests: by the id of the failure. They are judged by the limits kept with it and written down
    with the reason. Raises NotAllowed; WrongState when somebody has cleared it already; FleetError on
    `reason`, or on `re_test-ID` for a check that wasn't made again or still fails.
    """
    require(member, "clear_tag_outs", _("clear tag-outs"), tag_out)
    with scope(organisation=member.organisation), transaction.atomic():
        machine = Machine.objects.select_for_update(of=("self",)).get(pk=tag_out.machine_id)
        passed = {failure: _passed(failure, re_tests.get(failure.pk)) for failure in failing(machine)}
        told = "; ".join(f"{failure.label}: {value}" for failure, value in passed.items())
        why = reason.strip()
        if passed and why:
            why = _("Re-test passed: {values}. {reason}").format(values=told, reason=why)
        cleared = tag_outs.clear(tag_out=tag_out, reason=why, member=member)
        for failure, value in passed.items():
            SafetyFailure.objects.filter(machine=machine, re_tested_at=None, **_same_as(failure)).update(
                re_tested_at=timezone.now(), re_tested_by=member, re_test=str(value)
            )
        return cleared


def said(result: CheckResult) -> str:
    """Return a failure as people read it: "Belt deflection: 10 mm (limit 7 to 9 mm)"."""
    allowed = limits.said(result.lower, result.upper, result.unit)
    value = result.as_left or result.as_found
    if not allowed:
        return f"{result.label}: {value}"
    return _("{check}: {value} (limit {limit})").format(check=result.label, value=value, limit=allowed)


def _same_as(made: CheckResult | SafetyFailure) -> dict[str, object]:
    """How the same check is found in every version of its program."""
    check = made.check_made
    return {
        "check_made__task__version__program": check.task.version.program_id,
        "check_made__task__code": check.task.code,
        "check_made__code": check.code,
    }


def _is_known(result: CheckResult, stale: bool) -> bool:
    """Whether this very failure is kept, and either stands or is what the order's record says."""
    kept = [
        row
        for row in SafetyFailure.objects.filter(line=result.line, check_made=result.check_made_id)
        if row.values == result.values
    ]
    if not kept or any(row.re_tested_at is None for row in kept):
        return bool(kept)
    recorded = result.line.results.filter(check_made=result.check_made_id).first()
    if recorded is None:
        return False
    superseded = stale and result.left_passes is None and recorded.found == result.found
    return superseded or recorded.values == result.values


def _stands(result: CheckResult, machine: Machine) -> bool:
    """Whether the machine is tagged out for that check already, found on whatever order."""
    standing = SafetyFailure.objects.filter(machine=machine, re_tested_at=None, **_same_as(result))
    return standing.exists() and machine.tag_outs.open().exists()


def _passed(failure: SafetyFailure, re_test: ReTest | None) -> limits.Value:
    """Return the re-test as read. Raises FleetError where there is none, or it fails."""
    field = f"re_test-{failure.pk}"
    if re_test is None or not re_test.typed.strip():
        raise FleetError(_("Repeat this check and enter what you found."), field=field)
    try:
        value = limits.Rule.of(failure).read(re_test.typed, re_test.unit)
    except FleetError as error:
        raise FleetError(error.sentence, field=field) from None
    if not value.passes:
        said = _("This still fails ({value}): it stays tagged out.")
        raise FleetError(said.format(value=value), field=field)
    return value
