"""The YAML of a program file: read within limits, with the lines its rows and lists stand in."""

from collections.abc import Iterator
from typing import Any

import yaml
from django.utils.translation import gettext as _

from servicing.programs.file_format.faults import ProgramFaults, count
from servicing.programs.file_format.limits import (
    DEEPEST,
    LONGEST_SAID,
    LONGEST_SCALAR,
    MOST_BYTES,
    MOST_VALUES,
)
from servicing.programs.file_format.yaml_lines import Listed, Row


def parse(written: str | bytes) -> Any:
    """Return the document in a YAML text.

    Raises ProgramFaults where it is not YAML, says a key twice or is more than a program can be.
    """
    if len(written) > MOST_BYTES:
        fault = _("is larger than {most} KB; is it the right file?")
        raise ProgramFaults([fault.format(most=MOST_BYTES // 1024)])
    try:
        return yaml.load(written, Loader=_Loader)  # a SafeLoader
    except yaml.MarkedYAMLError as error:
        mark, problem = error.problem_mark, str(error.problem)[:200]
        fault = _("not readable as YAML in line {line}: {problem}") if mark else _unreadable()
        said = fault.format(line=mark.line + 1 if mark else None, problem=problem)
        raise ProgramFaults([said]) from error
    except (yaml.YAMLError, UnicodeDecodeError) as error:
        raise ProgramFaults([_unreadable().format(problem=str(error)[:200])]) from error
    except (ValueError, LookupError, ArithmeticError, AttributeError, TypeError) as error:
        # a value that its own form or tag promises and doesn't keep, such as the date 2026-99-99
        fault = _("not readable as YAML: {problem}; put the value in quotes")
        raise ProgramFaults([fault.format(problem=str(error)[:200])]) from error


def _unreadable() -> str:
    return _("not readable as YAML: {problem}")


class _Loader(yaml.SafeLoader):
    """YAML that keeps its lines, and refuses a key standing twice in one row, where the last would win.

    Values are counted as they are put together, those under an alias each time it stands somewhere: what a
    few aliases of aliases would expand to is refused before it is.
    """

    def __init__(self, stream: Any) -> None:
        super().__init__(stream)
        self._values = self._depth = 0
        self._weights: dict[str, int] = {}

    def compose_node(self, parent: Any, index: Any) -> Any:
        event = self.peek_event()
        anchor = event.anchor
        if isinstance(event, yaml.AliasEvent):
            self._count(self._weights.get(anchor, 0), event)
            if anchor in self.anchors and anchor not in self._weights:
                raise _refused(event, _("line {line}: an alias refers to itself; no programme needs that"))
            return super().compose_node(parent, index)
        if isinstance(event, yaml.ScalarEvent) and len(event.value) > LONGEST_SCALAR:
            fault = _("line {line}: a text is longer than {most} characters; no programme needs that")
            raise _refused(event, fault, most=LONGEST_SCALAR)
        before, self._depth = self._values, self._depth + 1
        if self._depth > DEEPEST:
            fault = _("line {line}: it is nested more than {most} deep; no programme needs that")
            raise _refused(event, fault, most=DEEPEST)
        self._count(1, event)
        node = super().compose_node(parent, index)
        self._depth -= 1
        if anchor is not None:
            self._weights[anchor] = self._values - before
        return node

    def construct_mapping(self, node: yaml.MappingNode, deep: bool = False) -> dict[Any, Any]:
        seen: set[Any] = set()
        for key, _value in node.value:
            name = self.construct_object(key, deep=True)
            try:
                twice = name in seen
                seen.add(name)
            except TypeError:
                continue  # a list or row as a key: it is refused below
            if twice:
                fault = _("{key} is there twice in the row that begins in line {line}")
                said = fault.format(key=str(name)[:LONGEST_SAID], line=node.start_mark.line + 1)
                raise ProgramFaults([said])
        return super().construct_mapping(node, deep=deep)

    def construct_row(self, node: yaml.MappingNode) -> Iterator[Row]:
        found = Row()
        yield found
        self.flatten_mapping(node)
        found.update(self.construct_mapping(node, deep=True))
        found.line = node.start_mark.line + 1
        found.lines = {self.construct_object(key): key.start_mark.line + 1 for key, _value in node.value}

    def construct_list(self, node: yaml.SequenceNode) -> Iterator[Listed]:
        found = Listed()
        yield found
        found.extend(self.construct_sequence(node, deep=True))
        found.lines = [each.start_mark.line + 1 for each in node.value]

    def _count(self, more: int, event: Any) -> None:
        self._values += more
        if self._values > MOST_VALUES:
            fault = _("line {line}: it has more than {most} values; no programme needs that")
            raise _refused(event, fault, most=MOST_VALUES)


_Loader.add_constructor("tag:yaml.org,2002:map", _Loader.construct_row)
_Loader.add_constructor("tag:yaml.org,2002:seq", _Loader.construct_list)


def _refused(event: Any, fault: str, *, most: int = 0) -> ProgramFaults:
    return ProgramFaults([fault.format(line=event.start_mark.line + 1, most=count(most))])
