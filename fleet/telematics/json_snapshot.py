"""The JSON form of a fleet snapshot. A page of it is read whole, so it may be smaller than one of XML.

That there is a JSON form is known from makers' pages; how it writes the names is from memory: as in XML, in
capitals or not, with lists `Equipment` and `Links`. So names are compared without regard to capitals, to
prefixes of namespaces, and to the marks that programs put before what was an attribute.
"""

import json
from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from fleet.core.json_limits import TooMuch, check_json
from fleet.telematics.limits import MEGABYTE, Limits
from fleet.telematics.links import TEXT, member, read_links
from fleet.telematics.sections import Section, add, settled
from fleet.telematics.snapshot import (
    SNAPSHOT_TIMES,
    SentPage,
    SnapshotRefused,
    too_many_units,
    unit_of,
)


class JsonForm:
    """Reads one page: `feed` takes bytes as they come, `finish` says that these were all."""

    def __init__(self, limits: Limits, room: int) -> None:
        self._limits = limits
        self._room = room  # units
        self._data = bytearray()

    def feed(self, data: bytes) -> None:
        """Take more of it. Raises SnapshotRefused when it grows too large."""
        self._data += data
        if len(self._data) > self._limits.json_bytes:
            most = self._limits.json_bytes / MEGABYTE
            said = _("The page of JSON is larger than {most} MB; it was cut off.")
            raise SnapshotRefused(said.format(most=f"{most:.0f}"))

    def finish(self) -> SentPage:
        """Return the page. Raises SnapshotRefused when it is broken or no fleet snapshot."""
        try:
            text = self._data.decode(json.detect_encoding(self._data))
            check_json(text, most=self._limits.json_values)
            document = json.loads(
                text,
                parse_float=Decimal,
                parse_int=Decimal,
                parse_constant=str,
                object_pairs_hook=_with_all,
            )
        except json.JSONDecodeError as error:
            if error.pos >= len(error.doc.rstrip()) or error.msg.startswith("Unterminated"):
                raise SnapshotRefused(_("Only part of the document arrived.")) from None
            said = _("The JSON is broken in line {line}: {why}.")
            raise SnapshotRefused(said.format(line=error.lineno, why=error.msg)) from None
        except TooMuch as error:
            raise SnapshotRefused(
                _("The page of JSON {holds_too_much}.").format(holds_too_much=error)
            ) from None
        except (ValueError, RecursionError, ArithmeticError):
            raise SnapshotRefused(_("The JSON can't be read.")) from None
        fleet = {"equipment": document} if isinstance(document, list) and document else lowered(document)
        for wrap in ("fleet", "data", "result", "response"):
            if isinstance(fleet.get(wrap), dict) and _equipment(fleet) is None:
                fleet = {**fleet, wrap: None, **lowered(fleet[wrap])}
        equipment = _equipment(fleet)
        if equipment is None:
            said = _("The JSON is not a fleet snapshot: it has no list named Equipment.")
            raise SnapshotRefused(said, foreign=True)
        if len(equipment) > self._room:
            raise too_many_units(self._limits.units)
        around = [fleet, *(lowered(inside) for inside in fleet.values() if isinstance(inside, dict))]
        times = (each.get(key) for each in around for key in SNAPSHOT_TIMES)
        time = next((str(said) for said in times if isinstance(said, str | Decimal)), "")
        units = [unit_of(list(_sections(unit)), time) for unit in equipment]
        links = read_links({key: value for key, value in _tree(fleet).items() if key not in EQUIPMENT})
        page = SentPage(units, links.found, links.more, links.pages, links.units, links.strange)
        page.other_pages = links.others
        return page


EQUIPMENT = ("equipment", "equipments", "equipmentlist", "units", "machines", "assets", "items", "value")
HOURS = "cumulativeoperatinghours"
TEXTS = ("#text", "text", "$", "_", "value")
"""Where programs that turn XML into JSON put an element's text."""


def lowered(value: object) -> dict[str, Any]:
    """An object with its names as `links.member` writes them; an empty one for anything else."""
    if not isinstance(value, dict):
        return {}
    return _with_all((member(str(key)), inside) for key, inside in value.items())


class _Several(list[Any]):
    """The values of a name that stands several times in one object."""


def _with_all(pairs: Iterable[tuple[str, Any]]) -> dict[str, Any]:
    """An object; a name that stands there again with another value has a list of all its values."""
    made: dict[str, Any] = {}
    for key, value in pairs:
        if key not in made:
            made[key] = value
        elif made[key] != value:
            before = made[key]
            if not isinstance(before, _Several):
                made[key] = before = _Several(before if isinstance(before, list) else [before])
            before += value if isinstance(value, list) else [value]
    return made


def _equipment(fleet: dict[str, Any]) -> list[Any] | None:
    """The list of units, also where a single one stands for itself; None where there is none."""
    for key in EQUIPMENT:
        inside = fleet.get(key)
        if isinstance(inside, dict):
            within = lowered(inside)
            if "equipmentheader" in within or "cumulativeoperatinghours" in within:
                return [inside]
            inside = within.get("equipment")
        if isinstance(inside, list) and (key == "equipment" or _of_units(inside)):
            return inside
    return None


def _of_units(entries: list[Any]) -> bool:
    return any({"equipmentheader", "cumulativeoperatinghours"} & lowered(entry).keys() for entry in entries)


def _sections(unit: object) -> Iterator[tuple[str, Section]]:
    for section, values in lowered(unit).items():
        for each in _listed(values):
            if isinstance(each, str | Decimal):
                yield section, {"": [str(each)[:2000].strip()]}
                continue
            inside: Section = {}
            for element, value in lowered(each).items():
                if section == HOURS and isinstance(value, list) and not isinstance(value, _Several):
                    # nobody knows what a list of hours is: it stands there as it is, and is refused
                    add(inside, element, str([_text(one) or "…" for one in value[:5]]))
                    continue
                for one in _listed(value):
                    text = _text(one)
                    if text is not None:
                        add(inside, element, text)
                    if text is not None or not isinstance(value, list):  # a figure with its unit beside it
                        for key, beside in lowered(one).items():
                            if (text := _text(beside)) is not None:
                                add(inside, key, text, beside=True)
            yield section, settled(inside)


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]


def _text(value: object) -> str | None:
    if isinstance(value, dict):
        value = next((value[key] for key in TEXTS if key in value), None)
    return str(value)[:2000] if isinstance(value, str | Decimal) else None


def _tree(value: Any) -> Any:
    """A page's members beside its units, as `links.read_links` takes them."""
    if isinstance(value, dict):
        return {
            TEXT if str(key) in TEXTS[:4] else member(str(key)): (
                None if member(str(key)) in EQUIPMENT and isinstance(inside, list) else _tree(inside)
            )
            for key, inside in value.items()
        }
    return [_tree(each) for each in value] if isinstance(value, list) else value
