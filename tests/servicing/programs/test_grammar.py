"""The grammar of program files: every fault of a value and of its neighbours, and junk at any place."""

import re
from contextlib import suppress
from copy import deepcopy
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from servicing import models
from servicing.programs.file_format import ProgramFaults, grammar, parse, read, read_draft_task
from servicing.web.forms.program_rows import CautionForm
from tests.servicing.programs.test_load import WRITTEN, faults_of

KINDS = "measure, torque, sight, function, level"


@pytest.fixture
def document():
    return parse(WRITTEN)


def paths(node, path=()):
    """Every place in a document, as the keys and numbers that lead there."""
    yield path
    entries = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for step, entry in entries:
        yield from paths(entry, (*path, step))


def put(document, path, value):
    """Return the document with a value at a place."""
    if not path:
        return value
    *before, last = path
    node = document
    for step in before:
        node = node[step]
    node[last] = value
    return document


def place(path):
    """The pattern of the place that a fault at the end of a path is said at."""
    rows = [rf"{key}\[{at}\].*" for key, at in zip(path[::2], path[1::2], strict=False)]
    return ": ".join([*rows, f"{path[-1]} " if len(path) % 2 else "must|is"])


GOOD = parse(WRITTEN)
PATHS = list(paths(GOOD))
NOWHERE = [b"x", date(2026, 1, 1), float("nan"), 10**30, {"a": 1}]  # right at no place
HUGE = 1 << 20_000  # more digits than Python writes
KEYS = ["code", "kind", "tasks", "value", "measure", None, True, 1, "x" * 99]
JUNK = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.decimals()
    | st.text(max_size=3)
    # and what is right elsewhere, or nearly
    | st.sampled_from(["", " ", "x" * 2001, "measure", "dust", "\0", "\ud800", *NOWHERE])
    | st.builds(pow, st.just(2), st.just(20_000)),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(KEYS), inner, max_size=3),
    max_leaves=6,
)


@pytest.mark.parametrize("path", PATHS, ids=str)
def test_what_is_right_nowhere_is_refused_with_its_place(path):
    for junk in NOWHERE:
        faults = faults_of(put(deepcopy(GOOD), path, junk))
        assert any(re.search(place(path), fault) for fault in faults), faults


@settings(max_examples=300, deadline=None)
@given(path=st.sampled_from(PATHS), junk=JUNK)
def test_junk_anywhere_is_a_fault_at_most(path, junk):
    with suppress(ProgramFaults):
        read(put(deepcopy(GOOD), path, junk))


@settings(max_examples=300, deadline=None)
@given(path=st.sampled_from(list(paths(GOOD["tasks"][0]))), junk=JUNK)
def test_junk_anywhere_in_a_draft_is_a_fault_at_most(path, junk):
    task = put(deepcopy(GOOD["tasks"][0]), path, junk)
    with suppress(ProgramFaults):
        read_draft_task(task, fitments=["filter"], places=["front", "rear"], parts={})


@pytest.mark.parametrize(
    ("change", "faults"),
    [
        (
            lambda d: d["tasks"][0]["checks"][0].update(kind="guess", colour="red", unit=3),
            [f"line 28: tasks[0] oil: checks[0] gap: kind is 'guess'; it must be one of: {KINDS}"],
        ),
        (
            lambda d: d["tasks"][0]["checks"][0].update(kind=["measure"], label=""),
            [
                f"line 28: tasks[0] oil: checks[0] gap: kind is ['measure']; it must be one of: {KINDS}",
                "line 28: tasks[0] oil: checks[0] gap: label is empty",
            ],
        ),
        (
            lambda d: d["tasks"][0]["checks"].append("look at it"),
            [
                "line 27: tasks[0] oil: checks[3]: must be keys with values",
                "line 27: tasks[0] oil: checks[3]: code missing",
                "line 27: tasks[0] oil: checks[3]: kind missing",
                "line 27: tasks[0] oil: checks[3]: label missing",
            ],
        ),
        (
            lambda d: (d.update(colour="red"), d["tasks"][0]["tools"].__setitem__(0, ["socket"])),
            [
                "line 2: colour is not a key here",
                "line 24: tasks[0] oil: tools[0]: must be keys with values",
                "line 24: tasks[0] oil: tools[0]: tool missing",
            ],
        ),
        (
            lambda d: (d["tasks"][0].pop("code"), d["tasks"][0].update({True: 1, "measure": 2, None: 3})),
            [
                "line 12: tasks[0]: True is not a key here",
                "line 12: tasks[0]: measure is not a key here",
                "line 12: tasks[0]: None is not a key here",
                "line 12: tasks[0]: code missing",
            ],
        ),
        (
            lambda d: d["tasks"][0]["checks"][0].update(measure=1, lower=True),
            [
                "line 28: tasks[0] oil: checks[0] gap: measure is not a key here",
                "line 28: tasks[0] oil: checks[0] gap: lower must be a number",
            ],
        ),
        (
            lambda d: d["tasks"][0].update(steps=["Drain.", "", 3, "x" * 2001, "a\0"]),
            [
                "line 26: tasks[0] oil: steps[1]: is empty",
                "line 26: tasks[0] oil: steps[2]: must be text; put it in quotes",
                "line 26: tasks[0] oil: steps[3]: is longer than 2,000 characters",
                "line 26: tasks[0] oil: steps[4]: has characters that can't be kept",
            ],
        ),
    ],
)
def test_faults_beside_each_other_are_all_said_in_order(document, change, faults):
    change(document)
    assert faults_of(document) == faults


@pytest.mark.parametrize(
    ("value", "fault"),
    [
        (float("nan"), "is too large"),
        (float("-inf"), "is too large"),
        (10**30, "is too large"),
        pytest.param(HUGE, "is too large", id="huge"),
        (Decimal("NaN"), "is too large"),
        (10**8, "is too large"),
        (100_000_000.0000001, "is too large"),
        (0.0000001, "has more than 6 decimals"),
        (True, "must be a number"),
        ("1", "must be a number"),
        (None, "must be a number"),
    ],
)
def test_what_is_no_number_of_a_limit(document, value, fault):
    document["tasks"][0]["checks"][0]["lower"] = value
    assert faults_of(document) == [f"line 28: tasks[0] oil: checks[0] gap: lower {fault}"]


@pytest.mark.parametrize(
    "value", [1.0, True, "1", None, -1, 32768, pytest.param(HUGE, id="huge"), float("nan")]
)
def test_what_is_no_whole_number(document, value):
    document["tasks"][0]["minutes"] = value
    assert faults_of(document) == ["line 18: tasks[0] oil: minutes must be a whole number from 0 to 32767"]


@pytest.mark.parametrize("key", ["category: ", "tasks: [{minutes: ", "? ", "invented: [", "tasks: [{code: "])
def test_a_number_of_thousands_of_digits_is_refused(key):
    closed = "}]" if "{" in key else "]" if "[" in key else ""
    with pytest.raises(ProgramFaults):
        read(parse(f"{key}0x{'f' * 3990}{closed}"))


def test_texts_lose_the_spaces_around_them_and_numbers_stay_exact(document):
    document["title"] = "\x1c Water pump\n"
    document["tasks"][0]["checks"][0].update(lower=0.1, upper=Decimal("0.500000"), unit=" mm ")
    found = read(document)
    assert found.title == "Water pump"
    check = found.tasks[0]["checks"][0]
    assert (str(check["lower"]), str(check["upper"]), check["unit"]) == ("0.1", "0.500000", "mm")


@pytest.mark.parametrize(
    ("keys", "model"),
    [
        (grammar.Task, models.Task),
        (grammar.Interval, models.Interval),
        (grammar.Caution, models.Caution),
        (grammar.Tool, models.ToolNeed),
        (grammar.Supply, models.Part),
        *((check, models.Check) for check in dict.fromkeys(grammar.CHECKS.values())),
    ],
)
def test_no_text_is_longer_than_its_column(keys, model):
    columns = {column.name: getattr(column, "max_length", None) for column in model._meta.get_fields()}
    for key, field in keys.model_fields.items():
        if columns.get(key) and field.annotation is str:
            assert all(getattr(kind, "longest", columns[key]) == columns[key] for kind in field.metadata), (
                f"{model}.{key}"
            )


def test_a_form_takes_a_text_as_long_as_the_file_does():
    assert CautionForm({"hazard": "hot", "text": "x" * 2000}).is_valid()
    assert not CautionForm({"hazard": "hot", "text": "x" * 2001}).is_valid()
