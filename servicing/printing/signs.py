"""Warnings on paper: the drawings of the pages' hazards.svg, black on white."""

import re
from functools import cache
from pathlib import Path
from typing import Any

from django.contrib.staticfiles import finders

from fleet.core.hazards import panel
from servicing.models import Caution

SPRITE = "hourmark/hazards.svg"
SYMBOL = re.compile(r'<symbol id="([a-z-]+)" viewBox="([\d ]+)">(.*?)</symbol>', re.DOTALL)


@cache
def drawings() -> dict[str, str]:
    """Return each sign as an SVG of its own, by its name in fleet/core/hazards.py."""
    sprite = Path(str(finders.find(SPRITE))).read_text(encoding="utf-8")
    return {name: _drawing(name, view, inside) for name, view, inside in SYMBOL.findall(sprite)}


def printed(caution: Caution) -> dict[str, Any]:
    """Return a task's caution as house.typ sets it; texts only, "" for what isn't shown."""
    shown = panel(caution.hazard, caution.signal, caution.actions)
    return {
        "head": shown.head,
        "signal": shown.signal.value if shown.signal else "",
        "sign": shown.sign if shown.name or not shown.signal else "",
        "name": shown.name,
        "text": caution.text,
        "actions": [{"sign": action.value, "words": str(action.label)} for action in shown.actions],
    }


def _drawing(name: str, view: str, inside: str) -> str:
    ink = 'fill="#fff" color="#000" stroke="#000"' if name.startswith("no-") else 'fill="#fff" color="#000"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" {ink}>{inside}</svg>'
