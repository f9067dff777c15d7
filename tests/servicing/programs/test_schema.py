"""The JSON Schema of the program file (draft 2020-12): it agrees with what the reader takes and refuses."""

import json
from copy import deepcopy
from io import StringIO

import pytest
from django.core.management import call_command
from jsonschema import Draft202012Validator

from servicing.programs.file_format import ProgramFaults, parse, read
from servicing.programs.file_format.grammar import Program, Task
from servicing.programs.file_format.json_schema import program_schema
from tests.servicing.programs.test_load import FILES, WRITTEN

SCHEMA = program_schema()
VALIDATOR = Draft202012Validator(SCHEMA)


def test_it_is_printed():
    printed = StringIO()
    call_command("program_schema", stdout=printed)
    assert json.loads(printed.getvalue()) == SCHEMA


def test_it_is_a_schema():
    Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_program_that_comes_along_keeps_to_it(file):
    assert [error.message for error in VALIDATOR.iter_errors(parse(file.read_bytes()))] == []


def test_it_has_the_readers_keys():
    assert SCHEMA["properties"].keys() == Program.model_fields.keys()
    assert SCHEMA["$defs"]["task"]["properties"].keys() == Task.model_fields.keys()
    needed = {name for name, field in Task.model_fields.items() if field.is_required()}
    assert set(SCHEMA["$defs"]["task"]["required"]) == needed


@pytest.mark.parametrize(
    "change",
    [
        lambda d: d.pop("source"),
        lambda d: d.update(colour="red"),
        lambda d: d.update(program="Water Pump"),
        lambda d: d.update(category="boat"),
        lambda d: d["tasks"][0].update(minutes=True),
        lambda d: d["tasks"][0].update(minutes=-1),
        lambda d: d["tasks"][0].update(steps=[]),
        lambda d: d["tasks"][0].update(skill="anybody"),
        lambda d: d["tasks"][0].pop("outside_text"),
        lambda d: d["tasks"][1].update(outside="refer"),
        lambda d: d["tasks"][0]["intervals"][0].pop("anchor"),
        lambda d: d["tasks"][0]["intervals"][0].update(every_hours=0),
        lambda d: d["tasks"][0]["intervals"][0].update(every_months=601),
        lambda d: d["tasks"][1]["intervals"][0].update(every_hours=50),
        lambda d: d["tasks"][0]["checks"][0].pop("unit"),
        lambda d: d["tasks"][0]["checks"][1].update(unit="mm"),
        lambda d: d["tasks"][0]["checks"][2].pop("expect"),
        lambda d: d["tasks"][0]["cautions"][0].update(hazard="sharks"),
        lambda d: d["tasks"][0]["supplies"][0].pop("number"),
    ],
)
def test_both_refuse_the_same(change):
    document = deepcopy(parse(WRITTEN))
    assert VALIDATOR.is_valid(document)
    change(document)
    assert not VALIDATOR.is_valid(document)
    with pytest.raises(ProgramFaults):
        read(document)
