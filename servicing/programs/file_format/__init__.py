"""Strict reading of the file a service program is written in; see fixtures/programs/README.md."""

from servicing.programs.file_format.faults import ProgramFaults
from servicing.programs.file_format.file import ProgramText, read, read_draft_task
from servicing.programs.file_format.yaml_text import parse

__all__ = ["ProgramFaults", "ProgramText", "parse", "read", "read_draft_task"]
