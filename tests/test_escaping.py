"""No template and no code calls a text safe: what a person typed is always escaped."""

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.template import engines

pytestmark = pytest.mark.security

TEMPLATES = sorted((settings.BASE_DIR / "templates").rglob("*"))
UNSAFE = re.compile(r"\|\s*(safe|safeseq)\b|\bautoescape\s+off\b|\bfilter\s+safe\b")
RUNS = re.compile(r"<script(?![^>]*\bsrc=)|\son\w+\s*=|javascript:|\bhx-on", re.IGNORECASE)
ASKS = re.compile(r"\b(?:data-)?hx-(?!disable\b)[\w-]+")
MAILS = ("digest", "joining", "password")
TAKES_IN_TEXT = re.compile(r"\{%\s*(?:include|extends)\b[^%]*\.txt")
# The places where htmx acts, each on its own address.
MAY_ASK = {
    name: {"hx-get", "hx-trigger", "hx-select", "hx-swap"}
    for name in ("fleet/reading_file.html", "servicing/program_sent.html")
}


def texts():
    for path in TEMPLATES:
        if path.is_file() and path.suffix == ".html":
            yield str(path.relative_to(settings.BASE_DIR / "templates")), path.read_text()


def test_every_template_is_looked_at():
    names = [name for name, _ in texts()]
    assert "parts/field.html" in names
    assert len(names) > 100


def test_no_template_calls_a_value_safe():
    assert [name for name, text in texts() if UNSAFE.search(text)] == []


def test_no_template_has_a_script_of_its_own():
    assert [name for name, text in texts() if RUNS.search(text)] == []


def test_htmx_acts_on_two_pages():
    assert {name: set(found) for name, text in texts() if (found := ASKS.findall(text))} == MAY_ASK


def test_mails_alone_are_written_as_plain_text():
    """A mail has no markup; whatever else were to be sent as text would have to be added here."""
    plain = {
        str(path.relative_to(settings.BASE_DIR / "templates"))
        for path in TEMPLATES
        if path.is_file() and path.suffix != ".html" and UNSAFE.search(path.read_text())
    }
    mails = {f"notifications/{mail}{part}.txt" for mail in MAILS for part in ("", "_subject")}
    assert plain == mails
    assert [name for name, text in texts() if TAKES_IN_TEXT.search(text)] == []


@pytest.mark.parametrize(
    "text", ["{{ a|safe }}", "{{ a | safe }}", "{% autoescape off %}", "{{ a|join:', '|safeseq }}"]
)
def test_the_rule_knows_what_it_forbids(text):
    assert UNSAFE.search(text)


def test_templates_escape_unless_told_otherwise():
    engine = engines["django"]
    assert engine.engine.autoescape is True
    assert engine.from_string("{{ a }}").render({"a": "<b>'\""}) == "&lt;b&gt;&#x27;&quot;"


def test_no_code_calls_a_text_safe():
    """Ruff refuses the imports (TID251); here, that it is still told to, and that nothing steps around it."""
    ruled = (settings.BASE_DIR / "pyproject.toml").read_text()
    for name in ("mark_safe", "SafeString", "format_html", "SafeText", "SafeData"):
        assert f'.{name}".msg' in ruled
    ours = [
        path
        for app in ("config", "fixtures", "fleet", "notifications", "servicing")
        for path in (settings.BASE_DIR / app).rglob("*.py")
    ]
    assert len(ours) > 300
    around = re.compile(r"safestring|\b__html__\b|noqa: TID251")
    assert [str(path) for path in map(Path, ours) if around.search(path.read_text())] == []
