"""What is said of each fault that pydantic finds, with its place and line as a person looks for them."""

from typing import Any

from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _
from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails, InitErrorDetails, PydanticCustomError

from servicing.models import Check
from servicing.programs.file_format.faults import Faults, count, said
from servicing.programs.file_format.yaml_lines import line_of

SENTENCES = {
    "missing": _("missing"),
    "extra_forbidden": _("is not a key here"),
    "invalid_key": _("is not a key here"),
    "string_type": _("must be text; put it in quotes"),
    "string_too_short": _("is empty"),
    "string_too_long": _("is longer than {max_length} characters"),
    "string_pattern_mismatch": _("has characters that can't be kept"),
    "string_unicode": _("has characters that can't be kept"),
    "list_type": _("must be a list with something in it"),
    "too_short": _("must be a list with something in it"),
    "too_long": _("are {actual_length}; at most {max_length} can be kept"),
}
"""By pydantic's type of error; a sentence of our own is in the error's context. Each completes "KEY ..."."""
KEYS = _("must be keys with values")
UNKNOWN = ("extra_forbidden", "invalid_key")
NAMES = {
    "tasks": "code",
    "checks": "code",
    "fitments": "code",
    "intervals": "condition",
    "tools": "tool",
    "supplies": "number",
}
"""The key that a row of a list is known by, besides its number from 0."""


def not_keys(model: type[BaseModel], value: Any) -> ValidationError:
    """Return what is wrong where a row of keys is asked for: that it is none, and which keys it lacks."""
    faults: list[InitErrorDetails] = [
        {"type": PydanticCustomError("wrong", KEYS, {"sentence": KEYS}), "input": value}
    ]
    faults += [
        {"type": "missing", "loc": (name,), "input": value}
        for name, field in model.model_fields.items()
        if field.is_required()
    ]
    return ValidationError.from_exception_data(model.__name__, faults)


def say_faults(error: ValidationError, document: Any, faults: Faults) -> None:
    """Note every fault of the document, row by row: unknown keys first, then key by key."""
    first: dict[tuple[int | str, ...], int] = {}

    def rank(fault: ErrorDetails) -> list[tuple[bool, int]]:
        loc = fault["loc"]
        known = [True] * (len(loc) - 1) + [fault["type"] not in UNKNOWN]
        return [(known[at], first.setdefault(loc[: at + 1], len(first))) for at in range(len(loc))]

    for fault in sorted(error.errors(include_url=False), key=rank):
        _say(fault, document, faults)


def _say(fault: ErrorDetails, document: Any, place: Faults) -> None:
    path, row = _path(fault["loc"]), document
    for key, at in zip(path[::2], path[1::2], strict=False):
        entry = row[key][at]
        name = said(entry.get(NAMES[key], "")) if key in NAMES and isinstance(entry, dict) else ""
        counted = f"{key}[{at}] {name}" if name else f"{key}[{at}]"
        place = place.at(counted, line_of(row[key], at) or line_of(row, key))
        row = entry
    if len(path) % 2:
        key = fault["input"] if fault["type"] == "invalid_key" else path[-1]
        line = line_of(row) if fault["type"] == "missing" else line_of(row, key)
        place.on(line).say(f"{said(key)} {_sentence(fault)}")
    else:
        place.say(_sentence(fault))


def _path(loc: tuple[int | str, ...]) -> list[Any]:
    """Keys and numbers by turns; pydantic names the kind of a check after its number, which is left out."""
    return [
        step
        for at, step in enumerate(loc)
        if not (at > 1 and loc[at - 2] == "checks" and step in Check.Kind.values)
    ]


def _sentence(fault: ErrorDetails) -> str:
    values: dict[str, Any] = fault.get("ctx", {})
    sentence = SENTENCES.get(fault["type"]) or values.get("sentence", fault["msg"])
    figures = {key: count(values[key]) for key in ("max_length", "actual_length") if key in values}
    return gettext(sentence).format(**{"said": said(fault["input"], repr)} | values | figures)
