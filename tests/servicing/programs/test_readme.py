"""The paper of the program file names every key and word of the grammar, and no other."""

import re
from pathlib import Path

import pytest

from fleet.core.hazards import Action
from servicing.programs.file_format import grammar
from servicing.programs.file_format.kinds import UNITS, Kind

README = (Path(__file__).parents[3] / "fixtures" / "programs" / "README.md").read_text()
ROWS = [grammar.Caution, grammar.Tool, grammar.Supply, grammar.Choice, grammar.Fitment]
MODELS = [grammar.Program, grammar.Task, grammar.Interval, *ROWS, *dict.fromkeys(grammar.CHECKS.values())]
AT_TIMES = {"outside", "outside_text", "anchor"}  # left out or not: their rows say when


def table(heading):
    """The rows of the first table under a heading: two cells each."""
    section = README.split(f"\n## {heading}\n")[1].split("\n## ")[0]
    return [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in section.splitlines()
        if line.startswith("| `")
    ]


def named(cell):
    """The words in a cell as code, and whether each is marked *."""
    return {word: bool(star) for word, star in re.findall(r"`([a-z_]+)`(\*?)", cell)}


@pytest.mark.parametrize(
    ("heading", "model"),
    [("The file", grammar.Program), ("A task", grammar.Task), ("Intervals", grammar.Interval)],
)
def test_each_key_has_its_row_and_says_whether_it_may_be_left_out(heading, model):
    keys = {word: star for first, _ in table(heading) for word, star in named(first).items()}
    assert keys.keys() == model.model_fields.keys()
    for key in keys.keys() - AT_TIMES:
        assert keys[key] != model.model_fields[key].is_required(), key


@pytest.mark.parametrize(
    ("heading", "key", "model"),
    [
        ("The file", "fitments", grammar.Fitment),
        ("A task", "cautions", grammar.Caution),
        ("A task", "tools", grammar.Tool),
        ("A task", "supplies", grammar.Supply),
    ],
)
def test_the_row_of_a_list_names_the_keys_of_its_rows(heading, key, model):
    (meaning,) = (meaning for first, meaning in table(heading) if key in named(first))
    assert named(meaning).keys() == model.model_fields.keys()


def test_each_kind_of_check_has_its_further_keys():
    rows = {kind: further for first, further in table("Checks") for kind in named(first)}
    assert rows.keys() == grammar.CHECKS.keys()
    common = grammar.Check.model_fields.keys()
    for kind, model in grammar.CHECKS.items():
        keys = model.model_fields.keys() - common
        if "choices" in keys:
            keys |= grammar.Choice.model_fields.keys()
        words = named(rows[kind])
        assert keys == words.keys() - {"safety", "true", "outside"} or words.keys() == {"sight"}


def test_each_word_to_choose_stands_there():
    words = {
        word
        for model in MODELS
        for field in model.model_fields.values()
        for kind in field.metadata
        if isinstance(kind, Kind)
        for word in kind.taken.get("expected", ())
    }
    words |= set(Action.values)
    assert len(words) > 60
    assert {word for word in words if f"`{word}`" not in README} == set()


def test_each_unit_named_is_known():
    (said,) = re.findall(r"Units: (.*)\.\n", README)
    for unit in said.split(", "):
        read = grammar.Measure.model_validate(
            {"code": "a", "kind": "measure", "label": "A", "unit": unit, "lower": 1}
        )
        assert read.unit in UNITS
