"""The tasks of a program version: stored from rows of the program file's form, and read back into them."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.utils.translation import gettext as _

from fleet.models import Fitment, Organisation
from servicing.models import Caution, Check, Interval, Part, ProgramVersion, SupplyNeed, Task, ToolNeed
from servicing.programs.file_format import ProgramFaults

CHILDREN: dict[str, Any] = {"intervals": Interval, "cautions": Caution, "tools": ToolNeed, "checks": Check}
PART_KEYS = ("name", "grade", "unit")
OWN_LISTS = ("needs", "without", "supplies", *CHILDREN)


def parts_for(organisation: Organisation, tasks: Iterable[Mapping[str, Any]]) -> dict[str, Part]:
    """Return the organisation's parts by number in small letters; those the tasks name and it lacks are made.

    A known part stays as it is. Raises ProgramFaults where one is counted in another unit.
    """
    rows = {row["number"].lower(): row for task in tasks for row in task["supplies"]}
    found = {part.number.lower(): part for part in Part.objects.filter(organisation=organisation)}
    faults = [
        _("supply {number}: is counted in {unit} here, not in {other}").format(
            number=row["number"], unit=found[number].unit, other=row["unit"]
        )
        for number, row in rows.items()
        if number in found and found[number].unit != row.get("unit", found[number].unit)
    ]
    if faults:
        raise ProgramFaults(faults)
    missing = [
        Part(organisation=organisation, number=row["number"], **{key: row[key] for key in PART_KEYS})
        for number, row in rows.items()
        if number not in found
    ]
    return found | {part.number.lower(): part for part in Part.objects.bulk_create(missing)}


def store(
    version: ProgramVersion, tasks: Iterable[Mapping[str, Any]], fitments: Mapping[str, Fitment]
) -> None:
    """Store the tasks of a version that has none, in their order; fitments by code."""
    rows = list(tasks)
    parts = parts_for(version.organisation, rows)
    for position, row in enumerate(rows):
        task = Task(version=version, position=position, organisation=version.organisation)
        store_task(task, row, fitments, parts)


def store_task(
    task: Task, row: Mapping[str, Any], fitments: Mapping[str, Fitment], parts: Mapping[str, Part]
) -> None:
    """Give a task, new or of a draft, everything that its row says, and nothing else."""
    owner = {"organisation": task.organisation}
    for name, value in row.items():
        if name not in OWN_LISTS:
            setattr(task, name, value)
    task.save()
    task.needs.set([fitments[code] for code in row["needs"]])
    task.without.set([fitments[code] for code in row["without"]])
    for key, model in CHILDREN.items():
        getattr(task, key).all().delete()
        ranked = enumerate(row[key])
        model.objects.bulk_create(
            [
                model(task=task, **owner, **child, **({"position": rank} if model is Check else {}))
                for rank, child in ranked
            ]
        )
    task.supplies.all().delete()
    SupplyNeed.objects.bulk_create(
        SupplyNeed(task=task, part=parts[each["number"].lower()], quantity=each["quantity"], **owner)
        for each in row["supplies"]
    )


def rows_of(version: ProgramVersion) -> list[dict[str, Any]]:
    """Return the tasks of a version in the form of the file; a supply with its number and quantity alone."""
    tasks = version.tasks.prefetch_related("needs", "without", "supplies__part", *CHILDREN)
    return [row_of(task) for task in tasks]


def row_of(task: Task) -> dict[str, Any]:
    """Return one task in the form of the file; a supply with its number and quantity alone."""
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


def comparable(task: Mapping[str, Any]) -> dict[str, Any]:
    """Return a task's row with what has no order sorted, and a supply by its number alone."""
    return {
        **task,
        "needs": sorted(task["needs"]),
        "without": sorted(task["without"]),
        "intervals": sorted(task["intervals"], key=lambda row: str(row["condition"])),
        "cautions": sorted(task["cautions"], key=lambda row: int(row["before_step"])),
        "tools": sorted(task["tools"], key=lambda row: (str(row["tool"]), str(row["size"]))),
        "supplies": sorted((row["number"].lower(), row["quantity"]) for row in task["supplies"]),
    }
