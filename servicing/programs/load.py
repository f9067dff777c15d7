"""Service programs: loading one from its file, as a new version if anything in its tasks changed."""

from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.core.errors import WrongState
from fleet.models import Fitment, Machine, MachineType, Member, Organisation
from fleet.readings.propagation import expect_differently
from servicing.models import ProgramVersion, ServiceProgram
from servicing.programs import invented_figures
from servicing.programs.file_format import ProgramFaults, ProgramText, read
from servicing.programs.storage import comparable, rows_of, store


@transaction.atomic
def load_program(
    *,
    organisation: Organisation,
    document: Any,
    member: Member | None = None,
    now: datetime | None = None,
    draft: bool = False,
    trial: bool = False,
) -> ProgramVersion:
    """Load a program from its document and return its current version; needs the organisation's scope.

    Makes the machine type, its fitments and the parts where they are missing. Tasks that differ from the
    current version's become a new version, made at `now`, and the former one retires; the same tasks again
    leave the version as it is. The duties of the machines of the type are then refreshed.
    A document whose figures are `invented` is refused outside a demo, unless a person says with `trial` that
    it is only tried out. Its version is marked, and so is one that takes tasks over from a marked version.
    With `draft` the new version is a draft, to be looked at and applied later.
    Raises ProgramFaults, which says all that is wrong, and WrongState where a draft stands in the way of
    another; nothing is stored then.
    """
    text = read(document, invented=invented_figures.may_load(trial=trial))
    machine_type = _machine_type(organisation, text)
    fitments = _fitments(organisation, machine_type, text)
    program = _program(organisation, machine_type, text)
    current = program.versions.filter(state=ProgramVersion.State.CURRENT).first()
    if current and [comparable(row) for row in rows_of(current)] == [comparable(row) for row in text.tasks]:
        if text.invented and not current.invented and current.replaced_at is None:
            current.invented = True
            current.save(update_fields=["invented"])
        return current
    version = new_version(
        program,
        member=member,
        now=now,
        invented=text.invented or invented_figures.carried_over(current, text.tasks),
    )
    store(version, text.tasks, fitments)
    return version if draft else make_current(version, member=member, now=now)


def new_version(
    program: ServiceProgram, *, member: Member | None, now: datetime | None = None, invented: bool = False
) -> ProgramVersion:
    """Return a new draft of a program, still without tasks. Raises WrongState where there is one already."""
    ServiceProgram.objects.select_for_update().get(pk=program.pk)
    if program.versions.filter(state=ProgramVersion.State.DRAFT).exists():
        raise WrongState(
            _("{program} has a draft already. Apply it or throw it away first.").format(program=program)
        )
    return ProgramVersion.objects.create(
        organisation=program.organisation,
        program=program,
        number=(program.versions.aggregate(last=Max("number"))["last"] or 0) + 1,
        state=ProgramVersion.State.DRAFT,
        made_by=member,
        made_at=now or timezone.now(),
        invented=invented,
    )


def make_current(
    version: ProgramVersion, *, member: Member | None, now: datetime | None = None
) -> ProgramVersion:
    """Let duties be made from this draft from now on; the former version retires, open orders keep theirs."""
    others = ProgramVersion.objects.filter(program=version.program, state=ProgramVersion.State.CURRENT)
    others.update(state=ProgramVersion.State.RETIRED)
    version.state = ProgramVersion.State.CURRENT
    version.made_by, version.made_at = member, now or timezone.now()
    version.save()
    machines = Machine.objects.in_service().filter(type=version.program.machine_type_id)
    expect_differently(machines.values_list("pk", flat=True))
    return version


@transaction.atomic
def load_for_every_type(
    *, organisation: Organisation, document: Any, member: Member | None = None, trial: bool = False
) -> list[ProgramVersion]:
    """Load a document once for each machine type that has machines and no program; return the versions made.

    The type's own maker, model and kind stand in for the document's. Raises ProgramFaults as `load` does.
    """
    read(document, invented=invented_figures.may_load(trial=trial))
    bare = (
        MachineType.objects.filter(program=None, machines__retired_on=None).exclude(machines=None).distinct()
    )
    return [
        load_program(
            organisation=organisation,
            document={
                **document,
                "program": f"{document['program']}-{machine_type.pk}",
                "title": f"{document['title']}: {machine_type}",
                "maker": machine_type.maker,
                "model": machine_type.model,
                "category": machine_type.category,
            },
            member=member,
            trial=trial,
        )
        for machine_type in bare
    ]


def _machine_type(organisation: Organisation, text: ProgramText) -> MachineType:
    known = MachineType.objects.filter(
        organisation=organisation, maker__iexact=text.maker, model__iexact=text.model
    )
    return known.first() or MachineType.objects.create(
        organisation=organisation, maker=text.maker, model=text.model, category=text.category
    )


def _fitments(organisation: Organisation, machine_type: MachineType, text: ProgramText) -> dict[str, Fitment]:
    found = {
        row["code"]: Fitment.objects.get_or_create(
            organisation=organisation, code=row["code"], defaults={"name": row["name"]}
        )[0]
        for row in text.fitments
    }
    machine_type.fitments.add(*found.values())
    return found


def _program(organisation: Organisation, machine_type: MachineType, text: ProgramText) -> ServiceProgram:
    """The program of the machine type, locked; what stands outside its tasks is brought up to date."""
    other = (
        ServiceProgram.objects.filter(organisation=organisation, code=text.code)
        .exclude(machine_type=machine_type)
        .select_related("machine_type")
        .first()
    )
    if other:
        fault = _("program: {code} is already the programme of {machine_type}")
        raise ProgramFaults([fault.format(code=text.code, machine_type=other.machine_type)])
    program = ServiceProgram.objects.select_for_update().filter(machine_type=machine_type).first()
    if program and program.code != text.code:
        fault = _("program: {machine_type} already has the programme {code}")
        raise ProgramFaults([fault.format(machine_type=machine_type, code=program.code)])
    program = program or ServiceProgram(organisation=organisation, machine_type=machine_type, code=text.code)
    program.title, program.source, program.round = text.title, text.source, text.round
    program.save()
    return program
