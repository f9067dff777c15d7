"""Program files and tables that would fill the memory, or fell over: each is refused in a plain sentence."""

import time

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from servicing.planning import maker_table
from servicing.programs.file_format import ProgramFaults, faults, parse, read
from servicing.programs.file_format.limits import MOST_BYTES
from tests.fleet.imports.measured import MEGABYTE, measured

pytestmark = pytest.mark.security

LAUGHS = 'a: &a ["x","x","x","x","x","x","x","x","x"]\n' + "".join(
    f"{name}: &{name} [{','.join([f'*{before}'] * 9)}]\n"
    for before, name in zip("abcdefgh", "bcdefghi", strict=True)
)
MERGES = "a: &a {x: 1}\n" + "".join(
    f"{name}: &{name} {{<<: [{','.join([f'*{before}'] * 9)}]}}\n"
    for before, name in zip("abcdefgh", "bcdefghi", strict=True)
)
FULL = MOST_BYTES - 100
ATTACKS = {
    "brackets": ("[" * FULL, "nested more than 12 deep"),
    "braces": ("{a: " * (FULL // 4), "nested more than 12 deep"),
    "hyphens": ("- " * (FULL // 2), "nested more than 12 deep"),
    "keys": ("".join(f"{' ' * n}a:\n" for n in range(600)), "nested more than 12 deep"),
    "question marks": ("? " * (FULL // 2), "nested more than 12 deep"),
    "an alias of aliases": (LAUGHS, "more than 20,000 values"),
    "rows merged into rows": (MERGES, "more than 20,000 values"),
    "an alias of itself": ("a: &a [*a]", "an alias refers to itself"),
    "an alias of nothing": ("a: *b", "undefined alias"),
    "many values": ("[" + ",".join(["1"] * 100_000) + "]", "more than 20,000 values"),
    "many keys": ("\n".join(f"k{n}:" for n in range(25_000)), "more than 20,000 values"),
    "a long text": ("a: " + "x" * FULL, "longer than 4,000 characters"),
    "a long text over many lines": ("a: >\n" + "  x\n" * 50_000, "longer than 4,000 characters"),
    "a number of thousands of digits": ("a: " + "7" * 200_000, "longer than 4,000 characters"),
    "two megabytes": ("a: 1\n" * 400_000, "larger than 256 KB"),
    "a day that is none": ("a: 2026-99-99", "not readable as YAML"),
    "a number that is none": ("a: !!int ''", "not readable as YAML"),
    "a truth that is none": ("a: !!bool x", "not readable as YAML"),
    "an object": ("a: !!python/object/apply:os.system [x]", "could not determine a constructor"),
    "a list as a key": ("? [1]\n: 2", "not readable as YAML"),
    "no text": (b"\xff\xfe\xfd", "not readable as YAML"),
    "a null byte": (b"a: \0", "not readable as YAML"),
}
PARSE = """
    import os
    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
    import django; django.setup()
    from servicing.programs.file_format import ProgramFaults, parse, read
    before = used()
    try:
        read(parse(open(sys.argv[1], "rb").read()))
    except ProgramFaults as error:
        said = error.sentence
"""


@pytest.mark.parametrize(("text", "said"), ATTACKS.values(), ids=ATTACKS)
def test_a_mean_file_is_refused_in_one_sentence(text, said):
    began = time.process_time()
    with pytest.raises(ProgramFaults, match=said) as error:
        parse(text)
    assert len(error.value.sentence) < 400
    assert time.process_time() - began < 8


def test_the_largest_file_takes_little(tmp_path):
    rows = "".join(f"- {{code: c{n}, title: {'t' * 12}, note: {'x' * 40}}}\n" for n in range(2_500))
    found = measured(f"tasks:\n{rows}".encode(), tmp_path, PARSE)
    assert "tasks are 2,500; at most 250 can be kept" in found.said
    assert found.memory < 100 * MEGABYTE
    assert found.seconds < 10


def test_faults_and_wrong_values_are_said_as_far_as_a_person_reads():
    many = "\n".join(f"{'k' * 200}{n}: 1" for n in range(1000))
    with pytest.raises(ProgramFaults) as error:
        read(parse(many))
    assert len(error.value.faults) == 51
    assert error.value.faults[-1].startswith("and ")
    assert all(len(fault) < 200 for fault in error.value.faults)
    with pytest.raises(ProgramFaults) as error:
        read(parse(f"category: [{', '.join(['x'] * 9000)}]"))
    assert len(error.value.sentence) < 1500
    assert faults.said("x" * 60) == "x" * 60
    assert faults.said("x" * 61) == "x" * 59 + "…"


@pytest.mark.parametrize("written", ['"a\\0b"', '"a\\uD800b"'], ids=["zero", "half a character"])
def test_characters_that_no_database_keeps_are_named(written):
    with pytest.raises(ProgramFaults, match=r"title has characters that can't be kept|not readable as YAML"):
        read(parse(f"title: {written}"))


TABLES = {
    "a row of half a million columns over many rows": (
        "Task,100 h\n" + "," * 500_000 + "x\n" + "Oil,x\n" * 80_000,
        "Row 2 has 500001 columns; at most 18",
    ),
    "a cell of a million characters": ("Task,100 h\n" + "x" * 130_000 + ",x", "a cell of more than 2,000"),
    "a cell beyond what is read": ("Task,100 h\n" + "x" * 200_000, "Row 2 can't be read: field larger"),
    "references without end": ("Task,100 h\n" + "(1)" * 40_000 + ",x", "a cell of more than 2,000"),
    "rows": ("Task,100 h\n" + "Oil,x\n" * 100_000, "at most 250 rows"),
    "blank rows": ("Task,100 h\nOil,x\n" + ",,,\n" * 200_000, ""),
}


@pytest.mark.parametrize(("text", "said"), TABLES.values(), ids=TABLES)
def test_a_mean_table_is_refused_or_read_as_what_it_is(farm, text, said):
    began = time.process_time()
    answer = farm.client("manager").post(
        reverse("program-new"), {"file": SimpleUploadedFile("t.csv", text.encode()), "do": "read"}
    )
    assert time.process_time() - began < 8
    assert answer.status_code == (422 if said else 200)
    assert said in answer.content.decode().replace("&#x27;", "'")
    if not said:
        assert len(maker_table.cells(text, ",")) == 2
