"""Nothing that people read holds a phrase of tests/phrases.py: pages, mails, sheets, errors, commands."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.phrases import PHRASES, found_in

ROOT = Path(__file__).resolve().parents[1]
APPS = ("fleet", "servicing", "notifications", "config", "fixtures")
TAG = re.compile(r"\{%.*?%\}|\{\{.*?\}\}|\{#.*?#\}|<[^>]*>", re.DOTALL)
NOTE = re.compile(r"\{% comment %\}.*?\{% endcomment %\}", re.DOTALL)
CODE_NOTE = re.compile(r"/\*.*?\*/|(?<!:)//[^\n]*", re.DOTALL)
OLD = {"former_names.py", "former_names.js"}  # what phones and files of before may still send


def sources() -> Iterator[Path]:
    for app in APPS:
        for kind in ("*.py", "*.js", "*.typ"):
            yield from (ROOT / app).rglob(kind)
    yield from (ROOT / "templates").rglob("*.html")
    yield from (ROOT / "templates").rglob("*.txt")
    yield from (ROOT / name for name in ("README.md", "config/INSTALL.md"))


def written(path: Path) -> str:
    """What a file may show to people."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".py":
        return "\n".join(sentences(ast.parse(text)))
    if path.suffix in (".js", ".typ"):
        return CODE_NOTE.sub(" ", text)
    return TAG.sub(" ", NOTE.sub(" ", text)) if path.suffix in (".html", ".txt") else text


def sentences(tree: ast.AST) -> Iterator[str]:
    """Strings of a module, f-strings with a gap for each value; not what documents it."""
    documents = set()
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        for each in body if isinstance(body, list) else []:
            if isinstance(each, ast.Expr) and isinstance(each.value, ast.Constant):
                documents.add(each.value)
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield "".join(str(part.value) if isinstance(part, ast.Constant) else "…" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node not in documents:
            yield node.value


@pytest.mark.pure
def test_no_source_holds_one():
    paths = [
        path
        for path in sources()
        if "migrations" not in path.parts and "vendor" not in path.parts and path.name not in OLD
    ]
    assert len(paths) > 500
    found = {str(path.relative_to(ROOT)): bad for path in paths if (bad := found_in(written(path)))}
    assert found == {}


@pytest.mark.pure
def test_it_would_be_found():
    code = '"""Hangs on it."""\ndef f(x):\n    "take it off there"\n    return f"{x} hangs on\\n  it"\n'
    assert {each for text in sentences(ast.parse(code)) for each in found_in(text)} == {"hangs on it"}
    assert found_in("These are Past   their\nmark.") == ["past their mark"]
    assert len(set(PHRASES)) == len(PHRASES)
    assert all(phrase == phrase.lower() for phrase in PHRASES)
