"""Safety checks that failed and haven't passed since; the re-test that gives a machine back to use."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.db import transaction
from django_scopes import scope

from fleet import tagouts
from fleet.errors import FleetError, NotAllowed
from fleet.models import Machine, Member, TagOut
from servicing import limits
from servicing.models import CheckResult
from servicing.models.line import WORKED_ON


@dataclass(frozen=True)
class ReTest:
    """A failed check made again: the value as typed, or the word; a blank unit is the limit's."""

    typed: str
    unit: str = ""


def failing(machine: Machine) -> list[CheckResult]:
    """Return, for each safety check of a machine that failed and hasn't passed since, that result.

    The newest first. A check passes by a later result, or by the re-test that clearing a tag-out asks for.
    """
    results = (
        CheckResult.objects.annotate(on=WORKED_ON)
        .filter(on=machine.pk, safety=True)
        .select_related("line__order", "check_made__task")
        .order_by("recorded_at", "pk")
    )
    latest = {(r.check_made.task.code, r.check_made.code): r for r in results}
    cleared = (
        TagOut.objects.filter(machine=machine, cleared_at__isnull=False)
        .order_by("-cleared_at")
        .values_list("cleared_at", flat=True)
        .first()
    )
    return sorted(
        (r for r in latest.values() if r.passes is False and not (cleared and r.recorded_at <= cleared)),
        key=lambda r: (r.recorded_at, r.pk),
        reverse=True,
    )


def clear(*, tag_out: TagOut, reason: str, re_tests: Mapping[int, ReTest], member: Member) -> TagOut:
    """Clear a tag-out in the member's name, once every failed safety check has been made again and passed.

    re_tests: by the id of the failed result. They are judged by the limits kept with it and written down
    with the reason. Raises NotAllowed; WrongState when somebody has cleared it already; FleetError on
    `reason`, or on `re_test-ID` for a check that wasn't made again or still fails.
    """
    if member.organisation_id != tag_out.organisation_id or not member.rights.clear_tag_outs:
        raise NotAllowed("Your role does not clear tag-outs.")
    with scope(organisation=member.organisation), transaction.atomic():
        machine = Machine.objects.select_for_update(of=("self",)).get(pk=tag_out.machine_id)
        passed = [_passed(result, re_tests.get(result.pk)) for result in failing(machine)]
        said = f"Re-test passed: {'; '.join(passed)}. " if passed and reason.strip() else ""
        return tagouts.clear(tag_out=tag_out, reason=f"{said}{reason.strip()}", member=member)


def _passed(result: CheckResult, re_test: ReTest | None) -> str:
    """Return the re-test in words. Raises FleetError where there is none, or it fails."""
    field = f"re_test-{result.pk}"
    if re_test is None or not re_test.typed.strip():
        raise FleetError("Make this check again and enter what you found.", field=field)
    try:
        passes, said = _judged(result, re_test)
    except KeyError:
        raise FleetError("Choose one of the words.", field=field) from None
    except FleetError as error:
        raise FleetError(error.sentence, field=field) from None
    if not passes:
        raise FleetError(f"This still fails ({said}): it stays tagged out.", field=field)
    return f"{result.label}: {said}"


def _judged(result: CheckResult, re_test: ReTest) -> tuple[bool, str]:
    if not result.is_numeric:
        word = re_test.typed.strip()
        return limits.word_passes(word, result.choices), word
    value, unit = limits.number(re_test.typed), limits.spelled(re_test.unit or result.unit)
    passes = limits.within(value, unit, lower=result.lower, upper=result.upper, limit_unit=result.unit)
    return passes, f"{limits.plain(value)} {unit}"
