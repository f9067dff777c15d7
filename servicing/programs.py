"""Service programs: loading one from its file, as a new version if anything in its tasks changed."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from fleet.models import Fitment, Machine, MachineType, Member, Organisation
from servicing import due
from servicing.models import (
    Caution,
    Check,
    Interval,
    Part,
    ProgramVersion,
    ServiceProgram,
    SupplyNeed,
    Task,
    ToolNeed,
)
from servicing.program_file import ProgramFaults, ProgramText, read

CHILDREN = {"intervals": Interval, "cautions": Caution, "tools": ToolNeed, "checks": Check}
PART_KEYS = ("name", "grade", "unit")


@transaction.atomic
def load(
    *,
    organisation: Organisation,
    document: Any,
    member: Member | None = None,
    now: datetime | None = None,
) -> ProgramVersion:
    """Load a program from its document and return its current version; needs the organisation's scope.

    Makes the machine type, its fitments and the parts where they are missing. Tasks that differ from the
    current version's become a new version, made at `now`, and the former one retires; the same tasks again
    leave the version as it is. The duties of the machines of the type are then refreshed.
    Raises ProgramFaults, which says all that is wrong; nothing is stored then.
    """
    text = read(document)
    machine_type = _machine_type(organisation, text)
    fitments = _fitments(organisation, machine_type, text)
    program = _program(organisation, machine_type, text)
    parts = _parts(organisation, text)
    current = program.versions.filter(state=ProgramVersion.State.CURRENT).first()
    if current and _stored(current) == [_comparable(task) for task in text.tasks]:
        return current
    program.versions.filter(state=ProgramVersion.State.CURRENT).update(state=ProgramVersion.State.RETIRED)
    version = ProgramVersion.objects.create(
        organisation=organisation,
        program=program,
        number=(program.versions.aggregate(last=Max("number"))["last"] or 0) + 1,
        state=ProgramVersion.State.CURRENT,
        made_by=member,
        made_at=now or timezone.now(),
    )
    _store(version, text, fitments, parts)
    due.want(Machine.objects.in_service().filter(type=machine_type).values_list("pk", flat=True))
    return version


@transaction.atomic
def load_for_every_type(
    *, organisation: Organisation, document: Any, member: Member | None = None
) -> list[ProgramVersion]:
    """Load a document once for each machine type that has machines and no program; return the versions made.

    The type's own maker, model and kind stand in for the document's. Raises ProgramFaults as `load` does.
    """
    read(document)
    bare = (
        MachineType.objects.filter(program=None, machines__retired_on=None).exclude(machines=None).distinct()
    )
    return [
        load(
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
        raise ProgramFaults([f"program: {text.code} is already the program of {other.machine_type}"])
    program = ServiceProgram.objects.select_for_update().filter(machine_type=machine_type).first()
    if program and program.code != text.code:
        raise ProgramFaults([f"program: {machine_type} already has the program {program.code}"])
    program = program or ServiceProgram(organisation=organisation, machine_type=machine_type, code=text.code)
    program.title, program.source, program.round = text.title, text.source, text.round
    program.save()
    return program


def _parts(organisation: Organisation, text: ProgramText) -> dict[str, Part]:
    """The parts by number in small letters, missing ones made; a known part stays as it is."""
    rows = {row["number"].lower(): row for task in text.tasks for row in task["supplies"]}
    found = {part.number.lower(): part for part in Part.objects.filter(organisation=organisation)}
    faults = [
        f"supply {row['number']}: is counted in {found[number].unit} here, not in {row['unit']}"
        for number, row in rows.items()
        if number in found and found[number].unit != row["unit"]
    ]
    if faults:
        raise ProgramFaults(faults)
    missing = [
        Part(organisation=organisation, number=row["number"], **{key: row[key] for key in PART_KEYS})
        for number, row in rows.items()
        if number not in found
    ]
    return found | {part.number.lower(): part for part in Part.objects.bulk_create(missing)}


def _store(
    version: ProgramVersion, text: ProgramText, fitments: Mapping[str, Fitment], parts: Mapping[str, Part]
) -> None:
    owner = {"organisation": version.organisation}
    for position, row in enumerate(text.tasks):
        row = dict(row)
        children = {key: row.pop(key) for key in CHILDREN}
        needs, without, supplies = row.pop("needs"), row.pop("without"), row.pop("supplies")
        task = Task.objects.create(version=version, position=position, **owner, **row)
        task.needs.set([fitments[code] for code in needs])
        task.without.set([fitments[code] for code in without])
        for key, model in CHILDREN.items():
            ranked = enumerate(children[key])
            model.objects.bulk_create(
                [
                    model(task=task, **owner, **child, **({"position": rank} if model is Check else {}))
                    for rank, child in ranked
                ]
            )
        SupplyNeed.objects.bulk_create(
            SupplyNeed(task=task, part=parts[each["number"].lower()], quantity=each["quantity"], **owner)
            for each in supplies
        )


def _stored(version: ProgramVersion) -> list[dict[str, Any]]:
    """The tasks of a version in the form of the file, for comparing."""
    tasks = version.tasks.prefetch_related("needs", "without", "supplies__part", *CHILDREN)
    return [_comparable(_row(task)) for task in tasks]


def _row(task: Task) -> dict[str, Any]:
    row: dict[str, Any] = _fields(task, ["version", "position", "needs", "without"])
    for key in CHILDREN:
        row[key] = [_fields(child, ["task", "position"]) for child in getattr(task, key).all()]
    row["needs"] = [fitment.code for fitment in task.needs.all()]
    row["without"] = [fitment.code for fitment in task.without.all()]
    row["supplies"] = [
        {"number": need.part.number, "quantity": need.quantity} for need in task.supplies.all()
    ]
    return row


def _fields(row: Any, leave_out: list[str]) -> dict[str, Any]:
    hidden = {"id", "organisation", *leave_out}
    return {field.name: getattr(row, field.name) for field in row._meta.fields if field.name not in hidden}


def _comparable(task: Mapping[str, Any]) -> dict[str, Any]:
    """A task's row with everything whose order has no meaning sorted, and a supply by its number alone."""
    return {
        **task,
        "needs": sorted(task["needs"]),
        "without": sorted(task["without"]),
        "intervals": sorted(task["intervals"], key=lambda row: str(row["condition"])),
        "cautions": sorted(task["cautions"], key=lambda row: int(row["before_step"])),
        "tools": sorted(task["tools"], key=lambda row: (str(row["tool"]), str(row["size"]))),
        "supplies": sorted((row["number"].lower(), row["quantity"]) for row in task["supplies"]),
    }
