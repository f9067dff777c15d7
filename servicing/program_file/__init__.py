"""Strict reading of the file a service program is written in; see fixtures/programs/README.md."""

from servicing.program_file.faults import ProgramFaults
from servicing.program_file.reading import ProgramText, read, read_draft_task
from servicing.program_file.text import parse

__all__ = ["ProgramFaults", "ProgramText", "parse", "read", "read_draft_task"]
