"""The table of rules as the phone judges; tests/servicing/measurements has the answers of the house."""

from typing import Any

import pytest

from servicing import workorders
from servicing.measurements import limits
from tests.servicing.measurements.vectors import TABLE, TODAY, check_of

pytestmark = pytest.mark.browser

JUDGE = """async ([rows, rules, today]) => {
    const judge = await import("/static/hourmark/offline/steps/judge.js");
    const value = ({ rule, typed, unit }) => judge.judge(rule, typed, unit, rules);
    const minutes = ({ typed }) => judge.minutes(typed, rules);
    const line = ({ line, entry, finished }) =>
        judge.problems(line, entry, { today, finished, rules })
            .map(([path, sentence]) => [path.join("-"), sentence]);
    const { values, lines } = rows;
    return { values: values.map(value), minutes: rows.minutes.map(minutes), lines: lines.map(line) };
}"""


def rule(check: dict[str, Any], outside: str = "adjust") -> dict[str, Any]:
    """The rule of a check as a page sends it."""
    grave = bool(check.get("safety")) or outside == "tag_out"
    return {"safety": bool(check.get("safety")), "grave": grave, **limits.Rule.of(check_of(check)).as_data()}


def not_fitted(needs: list[str]) -> str:
    if len(needs) > 1:
        return (
            f"This is for machines with {' and '.join(needs)}. Choose Deferred, and have the manager correct "
            "what the machine is fitted with."
        )
    return "" if needs else "Every machine of this type has this; choose Deferred or Referred."


def sent() -> dict[str, Any]:
    """The table with the rules and entries in the form in which the page's script has them."""
    blank = {"reason": "", "deferred_until": ""}
    return {
        "values": [{**row, "rule": rule(row["check"])} for row in TABLE["values"]],
        "minutes": TABLE["minutes"],
        "lines": [
            {
                "line": {
                    "not_fitted": not_fitted(row.get("needs", [])),
                    "checks": {
                        number: rule(check, row.get("outside", "adjust"))
                        for number, check in enumerate(row["checks"])
                    },
                },
                "entry": {**blank, **row["entry"], "checks": dict(enumerate(row["entry"]["checks"]))},
                "finished": row["finished"],
            }
            for row in TABLE["lines"]
        ],
    }


def test_the_phone_judges_every_row_as_the_house_does(door):
    page = door.open()
    page.goto("/sign-in/")
    said = page.evaluate(JUDGE, [sent(), workorders.rules(), TODAY])
    for kind, keys in (("values", ("passes", "wrong")), ("minutes", ("minutes", "wrong"))):
        for row, answer in zip(TABLE[kind], said[kind], strict=True):
            assert answer == {key: row[key] for key in keys if key in row}, row
    for row, answer in zip(TABLE["lines"], said["lines"], strict=True):
        assert answer == row["problems"], row["says"]
