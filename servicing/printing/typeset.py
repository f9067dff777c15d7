"""The words that stand in the templates themselves: `tr("Meter at close")` of house.typ."""

import ast
import re
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent
CALL = re.compile(r'\btr\(\s*("(?:[^"\\]|\\.)*")')


def messages(source: str) -> list[str]:
    """Return the messages of a template, in English."""
    return [ast.literal_eval(text) for text in CALL.findall(source)]


@cache
def every_message() -> frozenset[str]:
    """Return those of all templates in this folder."""
    sources = (path.read_text(encoding="utf-8") for path in FOLDER.glob("*.typ"))
    return frozenset(message for source in sources for message in messages(source))
