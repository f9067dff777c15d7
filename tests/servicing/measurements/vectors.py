"""The one table of what is judged how, for the process that records and for the phone without a line."""

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

from servicing.models import Check

TABLE: dict[str, list[dict[str, Any]]] = json.loads(
    (Path(__file__).parent / "rules.json").read_text(encoding="utf-8")
)
TODAY = "2026-05-04"


def fields(check: dict[str, Any]) -> dict[str, Any]:
    """The fields of a check as the table says it."""
    limits = {name: Decimal(check[name]) if name in check else None for name in ("lower", "upper")}
    return {"unit": "", **check, **limits}


def check_of(check: dict[str, Any]) -> Check:
    """A check that isn't saved, as the table says it."""
    return Check(label="x", **fields(check))
