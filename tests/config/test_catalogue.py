"""The catalogues have every message of the sources, wholly translated, and nothing besides."""

import re
from collections.abc import Callable, Iterator
from html.parser import HTMLParser

import pytest
from babel.messages.catalog import Message
from django.conf import settings

from config.catalogue import DOMAINS, ROOMS, brought_up_to_date, catalogue_path, messages, stored, written

LANGUAGES = [code for code, _name in settings.LANGUAGES if code != settings.LANGUAGE_CODE]
EACH = pytest.mark.parametrize(
    ("language", "domain"), [(language, domain) for language in LANGUAGES for domain in DOMAINS]
)
PLACE = re.compile(r"%\(\w+\)[sd]|\{\w*\}")


def each(language: str, domain: str) -> Iterator[tuple[Message, list[tuple[str, str]]]]:
    """Yield each message of a catalogue with its texts, each beside its translation."""
    for message in stored(language, domain):
        if not message.id:
            continue
        texts = [message.id] if isinstance(message.id, str) else list(message.id)
        said = [message.string] if isinstance(message.id, str) else list(message.string or ())
        yield message, [(texts[min(n, len(texts) - 1)], str(form or "")) for n, form in enumerate(said)]


def differing(language: str, domain: str, look: Callable[[str], object]) -> list[tuple[str, str]]:
    """Return the texts of a catalogue whose translation doesn't look the same."""
    return [
        (text, said)
        for _, texts in each(language, domain)
        for text, said in texts
        if look(text) != look(said)
    ]


@EACH
def test_it_is_up_to_date(language, domain):
    kept = catalogue_path(language, domain).read_bytes()
    assert written(brought_up_to_date(language, domain)) == kept, "run `make catalogues`"


@EACH
def test_every_message_is_translated(language, domain):
    missing = [message.id for message, texts in each(language, domain) if not all(said for _, said in texts)]
    assert missing == []
    assert len(messages(domain)) > 20
    assert not [message.id for message, _ in each(language, domain) if message.fuzzy]


@EACH
def test_what_is_filled_in_has_its_place(language, domain):
    wrong = [
        (text, said)
        for message, texts in each(language, domain)
        for text, said in texts
        if not _fits(text, said, several=isinstance(message.id, tuple))
    ]
    assert wrong == []


def test_no_message_names_a_module_of_ours():
    """What stands in which module is for comments: a help text is shown in Administration."""
    texts = [
        text
        for domain in DOMAINS
        for message in messages(domain)
        for text in ([message.id] if isinstance(message.id, str) else message.id)
    ]
    module = re.compile(rf"\b(?:{'|'.join(ROOMS)})\.\w")
    assert module.search("Its first rows: fleet.imports.sample.")
    assert [text for text in texts if module.search(text)] == []


QUOTED = re.compile("[“„]([^“„”{}%]+)[”“]")
TYPED = {
    "first 50 h",
    "every 100 h",
    "1 year",
    "page",
    "note",
    "Task",
    "ok",
    "CSV UTF-8",
}  # typed, or not ours


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("which", [0, 1], ids=["text", "translation"])
def test_what_a_hint_quotes_is_a_label_of_ours(language, which):
    texts = [pair[which] for domain in DOMAINS for _, pairs in each(language, domain) for pair in pairs]
    labels = {re.sub(r'<span class="unseen">.*?</span>|<[^>]*>', "", text) for text in texts}
    quoted = {found for label in labels for found in QUOTED.findall(label)} - TYPED
    assert len(quoted) >= 7
    assert quoted <= labels


def _fits(text: str, said: str, *, several: bool) -> bool:
    """Whether a translation has the same places; of several forms each has those of one of the texts."""
    places, needed = set(PLACE.findall(said)), set(PLACE.findall(text))
    return places <= needed and (several or places == needed)


@EACH
def test_it_has_the_same_elements(language, domain):
    assert differing(language, domain, lambda text: sorted(elements(text))) == []


def elements(text: str) -> list[str]:
    """Return the elements of HTML in a message, with their attributes' names."""
    found: list[str] = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            found.append(f"{tag} {' '.join(name for name, _ in attrs)}")

        def handle_endtag(self, tag: str) -> None:
            found.append(f"/{tag}")

    Reader().feed(text)
    return found


@EACH
def test_spaces_at_its_ends_are_kept(language, domain):
    assert differing(language, domain, lambda text: (text[:1].isspace(), text[-1:].isspace())) == []
