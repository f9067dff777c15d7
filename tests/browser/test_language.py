"""Scripts speak the language of their page, and write figures and moments as its reader does."""

import json

import pytest

pytestmark = pytest.mark.browser

CATALOGUE = {
    "messages": {
        "All sent.": "Alles gesendet.",
        "Kept on this phone: {n} entry.": ["Auf diesem Telefon: {n} Eintrag.", "{n} Einträge."],
    },
    "forms": "10" + "1" * 99 + "0" + "1" * 98,  # 101 as 1, and so 301
}
MAKE_GERMAN = """(told) => {
    Object.assign(document.documentElement, { lang: "de" }).dataset.decimal = ",";
    const block = document.createElement("script");
    Object.assign(block, { id: "catalogue", type: "application/json", textContent: told });
    document.head.append(block);
}"""
SAY = """async () => {
    const said = await import(`/static/hourmark/language.js?${document.documentElement.lang}`);
    const [one, several] = ["Kept on this phone: {n} entry.", "Kept on this phone: {n} entries."];
    const many = (n) => said.fill(said.ngettext(one, several, n), { n });
    const words = [said.gettext("All sent."), said.gettext("Seen"), ...[0, 1, 2, 101, 301].map(many)];
    return [...words, said.marked("7.5"), said.moment(new Date(2026, 10, 27, 14, 30))];
}"""


def test_a_page_without_a_catalogue_is_english(door):
    page = door.open()
    page.goto("/sign-in/")
    kept = [f"Kept on this phone: {n} entr{'y' if n == 1 else 'ies'}." for n in (0, 1, 2, 101, 301)]
    assert page.evaluate(SAY) == ["All sent.", "Seen", *kept, "7.5", "27 Nov, 14:30"]


def test_a_page_with_one_speaks_its_language(door):
    page = door.open()
    page.goto("/sign-in/")
    page.evaluate(MAKE_GERMAN, json.dumps(CATALOGUE))
    one = "Auf diesem Telefon: {} Eintrag.".format
    assert page.evaluate(SAY) == [
        *("Alles gesendet.", "Seen"),
        *("0 Einträge.", one(1), "2 Einträge.", one(101), one(301)),
        *("7,5", "27. Nov., 14:30"),
    ]
