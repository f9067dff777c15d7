"""What can hurt, in words and drawings: none without the other, and readable on its ground."""

import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.template.loader import render_to_string

from fleet.core.hazards import Action, Hazard, Signal, actions, panel
from servicing.models import Caution
from servicing.printing import signs

ROOT = Path(__file__).parents[3]
TEMPLATES = {path: path.read_text() for path in (ROOT / "templates").rglob("*.html")}
SPRITE = Path(str(finders.find("hourmark/hazards.svg"))).read_text()
STYLE = Path(str(finders.find("hourmark/hourmark.css"))).read_text()
NIGHT = Path(str(finders.find("hourmark/dark.css"))).read_text()


def shown(**given):
    """The words of the panel in their order, and the signs it uses."""
    page = render_to_string("parts/caution.html", given)
    words = " ".join(re.sub(r"<[^>]+>", " ", page).replace("&#x27;", "'").split())
    return words, re.findall(r'hazards\.svg#([a-z-]+)"', page), page


def test_every_name_has_its_drawing_and_every_drawing_its_name():
    drawn = re.findall(r'<symbol id="([^"]+)"', SPRITE)
    assert sorted(drawn) == sorted([*Hazard.values, *Action.values])
    assert signs.drawings().keys() == set(drawn)


def test_pages_ask_for_known_names_alone():
    pages = "\n".join(TEMPLATES.values())
    assert set(re.findall(r'\bhazard="([^"]*)"', pages)) <= set(Hazard.values)
    assert set(re.findall(r'\bsignal="([^"]*)"', pages)) <= set(Signal.values)
    musts = re.findall(r'\bmust="([^"{]*)"', pages)
    assert musts
    for must in musts:
        assert actions(must)


def test_every_panel_of_a_page_says_how_badly_it_hurts():
    used = [
        asked
        for page in TEMPLATES.values()
        for asked in re.findall(r'"parts/caution\.html" with ([^%]*)', page)
    ]
    assert len(used) > 10
    for asked in used:
        assert "signal=" in asked or "caution=caution" in asked, asked


# ISO 3864-2 and ANSI Z535.4, from memory: the word stands at the head, capitals, with the alert sign
@pytest.mark.parametrize(
    ("signal", "word"), [("danger", "Danger"), ("warning", "Warning"), ("caution", "Caution")]
)
def test_the_word_comes_first_then_what_hurts_and_what_to_do(signal, word):
    caution = Caution(hazard="hot", signal=signal, actions=["gloves", "no-start"], text="Oil burns.")
    words, drawn, page = shown(caution=caution, manual=False)
    assert words == f"{word} Hot parts or fluid Oil burns. Wear gloves Do not start it"
    assert drawn == ["general", "hot", "gloves", "no-start"]
    assert f'class="caution caution-{signal}"' in page
    assert page.count('aria-hidden="true"') == page.count("<svg") == 4


def test_no_severity_is_guessed():
    words, drawn, page = shown(caution=Caution(hazard="hot", text="Oil burns."))
    manual = "The maker's manual, local rules and licensed practice come first."
    assert words == f"Hot parts or fluid Oil burns. {manual}"
    assert drawn == ["hot"]
    assert "caution-unsaid" in page
    assert not re.search("danger|warning", page, re.IGNORECASE)


def test_what_is_not_named_has_the_general_sign():
    assert shown(text="Mind it.", manual=False)[:2] == ("Hazard Mind it.", ["general"])
    assert shown(text="Mind it.", signal="warning", manual=False)[:2] == ("Warning Mind it.", ["general"])


@pytest.mark.parametrize(
    "given",
    [{"hazard": "sharks"}, {"signal": "notice"}, {"must": ["fly"]}, {"hazard": "sharks", "signal": "notice"}],
)
def test_unknown_words_are_refused(given):
    with pytest.raises(ValueError, match="is not a valid"):
        panel(**given)


def colours(text):
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{3,6})\b", text))


def contrast(one, other):
    """WCAG 2.2, contrast ratio, from relative luminance."""

    def luminance(colour):
        digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
        parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
        red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_reckoned_rightly():
    assert contrast("#fff", "#000000") == pytest.approx(21)
    assert contrast("#767676", "#fff") == pytest.approx(
        4.54, abs=0.01
    )  # the palest grey that WCAG takes on white


@pytest.mark.parametrize("word", ["danger", "warning", "caution", "must"])
def test_letters_and_figures_are_read_on_their_ground(word):
    known = colours(STYLE)
    assert contrast(known[word], known[f"on-{word}"]) >= 4.5


@pytest.mark.parametrize("look", [{}, colours(NIGHT)])
def test_words_are_read_on_the_panel_and_signs_are_seen_there(look):
    known = colours(STYLE) | look
    for ground in ("paper-raised", "paper-sunk"):
        assert contrast(known["ink"], known[ground]) >= 4.5
    # a triangle is seen by its black edge or by its yellow, a disc by its ground or its ring (WCAG 1.4.11)
    assert max(contrast(part, known["paper-raised"]) for part in ("#000", known["caution"])) >= 3
    assert max(contrast(known[part], known["paper-raised"]) for part in ("must", "on-must")) >= 3


def test_the_night_leaves_the_colours_of_the_words_alone():
    assert not {"danger", "warning", "caution", "must"} & colours(NIGHT).keys()


def test_frames_are_heavier_the_worse_it_hurts():
    """In grey a panel is told by its word and its frame."""

    def frames(style, unit):
        return [
            float(re.search(rf"\.caution{name} {{[^}}]*--frame: ([\d.]+){unit}", style)[1])
            for name in ("-danger", "-warning", "")
        ]

    printed = Path(str(finders.find("hourmark/print.css"))).read_text()
    for found in (frames(STYLE, "px"), frames(printed, "pt")):
        assert found == sorted(set(found), reverse=True)
