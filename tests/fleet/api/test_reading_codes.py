"""The document names every code that says why a reading is held or refused."""

import ast
from pathlib import Path

import fleet.readings
import fleet.usage.plausibility
from fleet.api.intake import KEPT_CODES
from fleet.readings.submission import REFUSALS

# whose argument is a code, and which one it is
SAYS = {"Verdict": 1, "Unreadable": 0, "_refuse": 2}
FILES = [
    Path(fleet.usage.plausibility.__file__),
    *sorted(Path(fleet.readings.__path__[0]).glob("*.py")),
    *sorted(Path("fleet/api").glob("*.py")),
]


def codes():
    """Every code written down where readings are judged or refused."""
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text())):
            called = getattr(node, "func", None)
            name = getattr(called, "id", getattr(called, "attr", ""))
            if name in SAYS and len(node.args) > SAYS[name]:
                code = node.args[SAYS[name]]
                if isinstance(code, ast.Constant):
                    yield name, code.value


def test_no_code_is_missing():
    found = set(codes())
    assert {code for name, code in found if name == "Verdict"} <= set(KEPT_CODES)
    assert {code for name, code in found if name != "Verdict"} <= set(REFUSALS)
    assert {"negative", "unreadable_time", "out_of_reach"} <= {code for _name, code in found}


def test_no_code_is_named_that_nobody_says():
    said = {
        node.value
        for path in [*FILES, Path("fleet/models/meter.py")]
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Constant)
    }
    assert {*KEPT_CODES, *REFUSALS} <= said
