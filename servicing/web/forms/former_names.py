"""What a page that was made by the version before calls otherwise: its fields are read by their names now.

With the next version every use of this module goes.
"""

import re
from collections.abc import Mapping
from typing import Any

from servicing.workorders.former_names import OUTCOMES

FIELD = re.compile(r"(lines-\d+-)put_off_until")
OUTCOME = re.compile(r"lines-\d+-outcome")


def under_new_names(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return the values of fields, one or a list of each, by the names of the fields now."""
    return {FIELD.sub(r"\1deferred_until", name): _now(name, value) for name, value in values.items()}


def _now(name: str, value: Any) -> Any:
    if not OUTCOME.fullmatch(name):
        return value
    if isinstance(value, list):
        return [OUTCOMES.get(each, each) for each in value]
    return OUTCOMES.get(value, value)
