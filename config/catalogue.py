"""The catalogues of other languages: `python -m config.catalogue` brings them up to date with the sources.

Each message of the sources gets its entry; those no source has any more are dropped. A new one has no
translation yet, and `tests/config/test_catalogue.py` fails until it has. Compiled by `pybabel compile`.
"""

import ast
import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import IO, Any

from babel.messages.catalog import Catalog
from babel.messages.extract import DEFAULT_KEYWORDS, extract, extract_javascript, extract_python
from babel.messages.pofile import read_po, write_po
from django.utils.translation.template import templatize

from servicing.printing.typeset import messages as typeset_messages

BASE_DIR = Path(__file__).resolve().parent.parent
LOCALES = Path(__file__).resolve().parent / "locale"
ROOMS = ("config", "fleet", "notifications", "servicing", "templates")
KEYWORDS = DEFAULT_KEYWORDS | {
    "gettext_lazy": None,
    "gettext_noop": None,
    "ngettext_lazy": (1, 2),
    "pgettext_lazy": ((1, "c"), 2),
}
TEXT = r"""u?(?:'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")"""
CALL = re.compile(rf"\b(npgettext|ngettext|pgettext|gettext|_)\(({TEXT}(?:,\s*{TEXT})*)")

Found = tuple[int, str, Any, list[str]]


def template(file: IO[bytes], *_rest: Any, **_options: Any) -> Iterator[Found]:
    """Yield the messages of a template, as Django will look them up."""
    source = templatize(file.read().decode())
    for call in CALL.finditer(source):
        texts = [ast.literal_eval(each) for each in re.findall(TEXT, call[2])]
        yield 0, call[1], texts[0] if len(texts) == 1 else tuple(texts), []


def typeset(file: IO[bytes], *_rest: Any, **_options: Any) -> Iterator[Found]:
    """Yield the messages of a sheet that is set by Typst: `tr("Meter at close")`."""
    for message in typeset_messages(file.read().decode()):
        yield 0, "gettext", message, []


DOMAINS: dict[str, dict[str, Any]] = {
    "django": {
        ".py": extract_python,
        ".html": template,
        ".txt": template,
        ".typ": typeset,
    },
    "djangojs": {".js": extract_javascript},
}


def messages(domain: str) -> Catalog:
    """Return every message of the sources, in the order of their files."""
    found = Catalog(domain=domain)
    for room in ROOMS:
        for path in sorted((BASE_DIR / room).rglob("*")):
            if path.suffix not in DOMAINS[domain] or {"migrations", "locale"} & set(path.parts):
                continue
            for message, context in _of_file(path, DOMAINS[domain][path.suffix]):
                found.add(message, locations=[(str(path.relative_to(BASE_DIR)), 0)], context=context)
    return found


def _of_file(path: Path, method: Any) -> Iterator[tuple[Any, str | None]]:
    source = BytesIO(path.read_bytes())
    for _line, message, _comments, context in extract(method, source, keywords=KEYWORDS):
        yield message, context


def stored(language: str, domain: str) -> Catalog:
    """Return a language's catalogue as it is kept."""
    path = catalogue_path(language, domain)
    if not path.exists():
        return Catalog(locale=language, domain=domain)
    with path.open("rb") as file:
        return read_po(file, locale=language, domain=domain)


def catalogue_path(language: str, domain: str) -> Path:
    """Return where a language's catalogue is kept."""
    return LOCALES / language / "LC_MESSAGES" / f"{domain}.po"


def written(catalogue: Catalog) -> bytes:
    """Return a catalogue as its file has it: no dates, no line numbers; a diff shows words alone."""
    file = BytesIO()
    write_po(file, catalogue, width=110, ignore_obsolete=True, include_lineno=False, omit_header=True)
    header = {
        "Language": catalogue.locale,
        "Plural-Forms": catalogue.plural_forms,
        "Content-Type": "text/plain; charset=utf-8",
    }
    lines = "".join(f'"{name}: {value}\\n"\n' for name, value in header.items())
    return f'msgid ""\nmsgstr ""\n{lines}\n'.encode() + file.getvalue()


def brought_up_to_date(language: str, domain: str) -> Catalog:
    """Return a language's catalogue with an entry for each message of the sources, and no other."""
    catalogue = stored(language, domain)
    catalogue.update(messages(domain), no_fuzzy_matching=True)
    return catalogue


def main() -> None:
    """Write every catalogue anew."""
    for language in sorted(each.name for each in LOCALES.iterdir() if each.is_dir()):
        for domain in DOMAINS:
            catalogue_path(language, domain).write_bytes(written(brought_up_to_date(language, domain)))


if __name__ == "__main__":
    main()
