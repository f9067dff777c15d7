"""Rows for tests. Every factory keeps to one organisation: pass `organisation=` or let it make one."""

from tests.factories.fleet import (
    AttachmentFactory,
    FitmentFactory,
    MachineFactory,
    MachineTypeFactory,
    MemberFactory,
    OrganisationFactory,
    ReadingFactory,
    UserFactory,
    YardFactory,
)
from tests.factories.servicing import (
    CheckFactory,
    DefectFactory,
    DutyFactory,
    IntervalFactory,
    LineFactory,
    PartFactory,
    ProgramFactory,
    ProgramVersionFactory,
    TaskFactory,
    TechnicianFactory,
    WorkOrderFactory,
)

__all__ = [
    "AttachmentFactory",
    "CheckFactory",
    "DefectFactory",
    "DutyFactory",
    "FitmentFactory",
    "IntervalFactory",
    "LineFactory",
    "MachineFactory",
    "MachineTypeFactory",
    "MemberFactory",
    "OrganisationFactory",
    "PartFactory",
    "ProgramFactory",
    "ProgramVersionFactory",
    "ReadingFactory",
    "TaskFactory",
    "TechnicianFactory",
    "UserFactory",
    "WorkOrderFactory",
    "YardFactory",
]
