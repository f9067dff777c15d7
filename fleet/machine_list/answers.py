"""What a person answers about a list, and what the list asks."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from hashlib import sha256

from fleet.core.squeezed import squeeze

ADD = "add"  # this yard, as the list names it
POINT, COMMA = "point", "comma"


@dataclass(frozen=True)
class ModelAnswer:
    """What a new model is; '' where that wasn't said."""

    maker: str = ""
    model: str = ""
    category: str = ""


@dataclass(frozen=True)
class Answers:
    """What was answered about a list, '' and False where nothing was.

    order: dmy or mdy. decimal: point or comma. since_unknown: machines without a day count from today.
    leave_known: those that are here already are left out. in_currency: prices are in the organisation's
    currency, whatever the heading says. models, yards: by `key`; of a yard its id, or ADD. unnamed_yard: the
    id of the yard for rows without one; new_yard: the name of one to be added for these.
    """

    order: str = ""
    decimal: str = ""
    since_unknown: bool = False
    leave_known: bool = False
    in_currency: bool = False
    models: Mapping[str, ModelAnswer] = field(default_factory=dict)
    yards: Mapping[str, str] = field(default_factory=dict)
    unnamed_yard: str = ""
    new_yard: str = ""


def key(name: str) -> str:
    """What a model or a yard of the list is called among the answers, however it is written."""
    return sha256(squeeze("".join(name.split())).encode("utf-8", "replace")).hexdigest()[:12]


@dataclass
class ModelQuestion:
    """A model that isn't here yet. name: as the list has it; in_one: maker and model in one cell.

    said: what the list calls its category; category: what that means, offered, or what was answered.
    settled: a person has seen it, and it can be added; or it is one of ours.
    """

    key: str
    name: str
    in_one: bool
    maker: str
    model: str
    category: str = ""
    said: str = ""
    rows: list[int] = field(default_factory=list)
    problem: str = ""
    settled: bool = False


@dataclass
class YardQuestion:
    """A yard that isn't here yet. answer: ADD or the id of one of ours; '' where nothing was answered."""

    key: str
    name: str
    answer: str = ""
    rows: list[int] = field(default_factory=list)


@dataclass
class Questions:
    """What a list leaves open, or was answered about it.

    order, decimal: a cell that can be read in two ways. since: rows without a day. currency: the heading of
    the prices, where it names another than ours. unnamed: rows without a yard, where there isn't just one.
    """

    order: str = ""
    decimal: str = ""
    since: list[int] = field(default_factory=list)
    currency: str = ""
    models: list[ModelQuestion] = field(default_factory=list)
    yards: list[YardQuestion] = field(default_factory=list)
    unnamed: list[int] = field(default_factory=list)
