"""The JSON form of a fleet snapshot. A page of it is read whole, so it may be smaller than one of XML.

That there is a JSON form is known from makers' pages; how it writes the names is from memory: as in XML, in
capitals or not, with lists `Equipment` and `Links`. So names are compared without regard to capitals.
"""

import json
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from fleet.core.json_limits import TooMuch, check_json
from fleet.telematics.limits import MEGABYTE, Limits
from fleet.telematics.snapshot import SentPage, SnapshotRefused, too_many_units, unit_of


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
            document = json.loads(text, parse_float=Decimal, parse_int=Decimal, parse_constant=str)
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
        fleet = lowered(document)
        if "fleet" in fleet and isinstance(fleet["fleet"], dict):
            fleet = lowered(fleet["fleet"])
        if not isinstance(fleet.get("equipment"), list):
            raise SnapshotRefused(_("The JSON is not a fleet snapshot: it has no list named Equipment."))
        if len(fleet["equipment"]) > self._room:
            raise too_many_units(self._limits.units)
        units = [unit_of(_parts(lowered(unit))) for unit in fleet["equipment"] if isinstance(unit, dict)]
        return SentPage(units, _links(fleet.get("links")))


def lowered(value: object) -> dict[str, Any]:
    """An object with its names in lower case; an empty one for anything else."""
    return {str(key).lower(): inside for key, inside in value.items()} if isinstance(value, dict) else {}


def _parts(unit: dict[str, Any]) -> dict[tuple[str, str], str]:
    parts: dict[tuple[str, str], str] = {}
    for section, values in unit.items():
        for element, value in lowered(values).items():
            if isinstance(value, str | Decimal):
                parts[section, element] = str(value)[:2000]
    return parts


def _links(links: object) -> dict[str, str]:
    found = {}
    for link in map(lowered, links if isinstance(links, list) else []):
        if isinstance(link.get("rel"), str) and isinstance(link.get("href"), str):
            found[link["rel"].strip().lower()] = link["href"].strip()
    return found
