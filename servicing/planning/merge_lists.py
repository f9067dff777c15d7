"""One job sheet out of many tasks: one list of tools, one list of supplies, each preparation said once.

The order of work is the matter of `route`.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from servicing.planning.language import gettext as _

TORQUE_WRENCH = "torque wrench"
"""What the programs call it; in the reader's language it is the same tool."""


@dataclass(frozen=True)
class Tool:
    """A tool with all the sizes wanted of it."""

    name: str
    sizes: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.name} {_sizes_said(self.sizes)}".strip()


@dataclass(frozen=True)
class Supply:
    """A part or fluid that some task needs. `quantity` and `in_stock` in `unit`."""

    part: int
    name: str
    number: str
    grade: str
    unit: str
    quantity: Decimal
    in_stock: Decimal

    @property
    def short(self) -> Decimal:
        """How much is missing from stock; nought if enough is there."""
        return max(self.quantity - max(self.in_stock, Decimal(0)), Decimal(0))


def merge_texts(texts: Iterable[str]) -> list[str]:
    """Return each sentence once, in the order it first comes up, whatever its capitals and full stop."""
    seen: dict[str, str] = {}
    for text in texts:
        seen.setdefault(text.strip().rstrip(".").casefold(), text.strip())
    return [text for key, text in seen.items() if key]


def merge_tools(needs: Iterable[tuple[str, str]], torques: Iterable[tuple[Decimal, str]] = ()) -> list[Tool]:
    """Return each tool once with its sizes in rising order.

    `needs`: pairs of tool and size. `torques`: what is to be tightened, as (N·m to compare by, value as
    written). One torque wrench is asked for, which reaches the highest of them and of the sizes named.
    """
    sizes: dict[str, set[str]] = {}
    names: dict[str, str] = {}
    reach: list[tuple[Decimal, str]] = list(torques)
    named = _("torque wrench")
    for tool, size in needs:
        key = tool.strip().casefold()
        key = TORQUE_WRENCH if key == named.casefold() else key
        names.setdefault(key, tool.strip())
        if key == TORQUE_WRENCH and (capacity := _capacity(size)):
            reach.append(capacity)
            sizes.setdefault(key, set())
        else:
            sizes.setdefault(key, set()).update({size.strip()} - {""})
    if reach:
        names.setdefault(TORQUE_WRENCH, named)
        sizes.setdefault(TORQUE_WRENCH, set()).add(_("to at least {torque}").format(torque=max(reach)[1]))
    return [Tool(names[key], tuple(sorted(sizes[key], key=_by_number))) for key in sorted(names)]


def merge_supplies(needs: Iterable[Supply]) -> list[Supply]:
    """Return each part once, with the quantities of all tasks added up."""
    merged: dict[int, Supply] = {}
    for need in needs:
        sofar = merged[need.part].quantity if need.part in merged else Decimal(0)
        merged[need.part] = Supply(
            need.part, need.name, need.number, need.grade, need.unit, sofar + need.quantity, need.in_stock
        )
    return sorted(merged.values(), key=lambda supply: (supply.name.casefold(), supply.number))


def _capacity(size: str) -> tuple[Decimal, str] | None:
    found = re.search(r"(\d+(?:\.\d+)?)\s*(N·m|Nm|lbf·ft|lbf·in)\s*$", size)
    if found is None:
        return None
    value, unit = Decimal(found[1]), found[2]
    newton_metres = {"lbf·ft": Decimal("1.3558179483314004"), "lbf·in": Decimal("0.1129848290276167")}
    return value * newton_metres.get(unit, Decimal(1)), f"{found[1]} {unit}"


def _by_number(size: str) -> tuple[str, float, str]:
    found = re.match(r"(\d+)/(\d+)|(\d+(?:\.\d+)?)", size)
    if found is None:
        return ("", 0.0, size)
    amount = int(found[1]) / int(found[2]) if found[1] else float(found[3])
    return (size[found.end() :].strip(), amount, size)


def _sizes_said(sizes: Sequence[str]) -> str:
    """Return "12, 14 mm" for 12 mm and 14 mm; sizes with different units stay apart: "1/2 in; 12 mm"."""
    by_unit: dict[str, list[str]] = {}
    for size in sizes:
        found = re.fullmatch(r"(\d+(?:[./]\d+)?)\s+(\D+)", size)
        amount, unit = (found[1], found[2]) if found else (size, "")
        by_unit.setdefault(unit, []).append(amount)
    return "; ".join(f"{', '.join(amounts)} {unit}".strip() for unit, amounts in by_unit.items())
