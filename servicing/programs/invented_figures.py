"""Programs whose figures are invented: tried out, never worked by."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.errors import FleetError, WrongState
from fleet.core.permission import require
from fleet.models import Member
from servicing.models import ProgramVersion
from servicing.programs.storage import comparable, rows_of


def may_load(*, trial: bool) -> bool:
    """Whether a program with invented figures is taken: in a demo, or where a person says it is a trial."""
    return trial or settings.DEMO


def carried_over(version: ProgramVersion | None, tasks: Iterable[Mapping[str, Any]]) -> bool:
    """Whether any of the tasks still stands as in this version, and that one's figures are invented."""
    if version is None or not version.invented:
        return False
    before = [comparable(row) for row in rows_of(version)]
    return any(comparable(row) in before for row in tasks)


@transaction.atomic
def replaced(
    *, version: ProgramVersion, manual: str, member: Member, now: datetime | None = None
) -> ProgramVersion:
    """Take a person's word that each figure of a draft was replaced from the maker's manual; it is kept.

    manual: the maker's manual with its number and edition; it becomes the program's source.
    Raises NotAllowed; WrongState for what is no draft or isn't invented; FleetError on `manual`, and where no
    task differs from the invented version.
    """
    require(member, "manage_fleet", _("manage programmes"), version)
    draft = ProgramVersion.objects.select_for_update().filter(pk=version.pk).first()
    if draft is None or draft.state != ProgramVersion.State.DRAFT:
        raise WrongState(_("This draft is gone: someone has applied it or thrown it away."))
    if not draft.invented:
        raise WrongState(_("The figures of this draft are not marked as invented."))
    manual = manual.strip()
    if not manual:
        raise FleetError(_("Name the maker's manual, with its number and edition."), field="manual")
    before = draft.program.versions.filter(invented=True).exclude(pk=draft.pk).first()
    if before and _rows(before) == _rows(draft):
        raise FleetError(
            _(
                "Nothing in this draft differs from version {number}, whose figures are invented. Enter the "
                "maker's figures first."
            ).format(number=before.number)
        )
    draft.invented = False
    draft.replaced_by, draft.replaced_at, draft.replaced_from = member, now or timezone.now(), manual
    draft.save(update_fields=["invented", "replaced_by", "replaced_at", "replaced_from"])
    draft.program.source = manual
    draft.program.save(update_fields=["source"])
    return draft


def _rows(version: ProgramVersion) -> list[dict[str, Any]]:
    return [comparable(row) for row in rows_of(version)]
