"""Stickers on label sheets, measured on the printed page by poppler's tools."""

import re
import subprocess
from datetime import UTC, datetime
from io import BytesIO

import pytest
import segno
from PIL import Image

from servicing.printing import stickers_pdf as paper
from servicing.printing.label_sheets import SHEETS, said
from tests.servicing.printing.conftest import tool

NOW = datetime(2026, 5, 4, 12, tzinfo=UTC)
POINT = 25.4 / 72  # mm
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # ISO 216; ANSI/ASME Y14.1 size A
DOTS = 24  # a mm, when a page is looked at


@pytest.fixture(autouse=True)
def known_address(settings):
    settings.SITE_URL = "https://hours.example.org"


@pytest.fixture
def machines(farm):
    return [farm.machine(tag=f"T-{number:02d}") for number in range(1, 4)]


@pytest.fixture
def tags_at(tmp_path):
    """Return of each page where each machine's tag stands: tag, left, top, right, bottom in mm."""

    def tags_at(pdf):
        file = tmp_path / "labels.pdf"
        file.write_bytes(pdf)
        done = subprocess.run([tool("pdftotext"), "-bbox", str(file), "-"], capture_output=True, check=True)
        word = r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">([^<]+)</word>'
        return [
            [(text, *(float(each) * POINT for each in box)) for *box, text in re.findall(word, page)]
            for page in done.stdout.decode().split("<page ")[1:]
        ]

    return tags_at


def label_of(sheet, left, top, right, bottom):
    """The number of the one label that a box lies wholly within; None where there is none."""
    for number in range(sheet.labels):
        x = sheet.left + number % sheet.columns * sheet.across
        y = sheet.top + number // sheet.columns * sheet.down
        if x <= left and right <= x + sheet.width and y <= top and bottom <= y + sheet.height:
            return number + 1
    return None


@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_fits_its_paper_in_the_middle(name):
    sheet = SHEETS[name]
    for paper_side, first, count, step, label in (
        (PAPERS[sheet.paper][0], sheet.left, sheet.columns, sheet.across, sheet.width),
        (PAPERS[sheet.paper][1], sheet.top, sheet.rows, sheet.down, sheet.height),
    ):
        assert step >= label, "labels don't overlap"
        assert paper_side - (first + (count - 1) * step + label) == pytest.approx(first, abs=0.5)


def test_sheets_are_told_by_their_measures():
    assert said(SHEETS["a4-3x7"]) == "3 × 7 labels of 63.5 × 38.1 mm"
    assert said(SHEETS["a4-3x8-no-gap"]) == "3 × 8 labels of 70 × 37 mm, no gaps"
    assert said(SHEETS["letter-3x10"]) == "3 × 10 labels of 66.67 × 25.4 mm (2⅝ × 1 in)"
    assert said(SHEETS["letter-2x5"]) == "2 × 5 labels of 101.6 × 50.8 mm (4 × 2 in)"


@pytest.mark.parametrize("name", SHEETS)
def test_every_word_stands_on_its_label_from_the_first_free_one_on(machines, tags_at, name):
    sheet = SHEETS[name]
    for begin in (1, sheet.columns + 2, sheet.labels - 1):
        pages = tags_at(paper.labels(machines, sheet=sheet, begin=begin, at=NOW))
        wanted = [begin, begin + 1, begin + 2]
        found = []
        for number, page in enumerate(pages):
            for text, *box in page:
                label = label_of(sheet, *box)
                assert label is not None, (text, box)
                if re.fullmatch(r"T-\d\d", text):
                    found.append(number * sheet.labels + label)
        assert found == wanted
        assert len(pages) == (2 if wanted[-1] > sheet.labels else 1)


def test_parts_go_on_where_the_one_before_ended(farm, machines, tags_at, monkeypatch):
    monkeypatch.setattr(paper, "MOST", 2)
    sheet = SHEETS["a4-2x4"]

    def labels(part):
        answer = farm.client("counter").get(
            "/machines/stickers.pdf", {"size": "a4-2x4", "begin": "7", "part": part}
        )
        (page,) = tags_at(answer.content)
        return [(text, label_of(sheet, *box)) for text, *box in page if text.startswith("T-")]

    assert labels(1) == [("T-01", 7), ("T-02", 8)]
    assert labels(2) == [("T-03", 1)]


@pytest.mark.parametrize("name", SHEETS)
def test_a_code_is_printed_as_it_is_with_its_quiet_zone(machines, name, tmp_path):
    """Each module is dark or light as ISO/IEC 18004 has it (by segno), and four around it are white."""
    sheet, begin = SHEETS[name], 2
    file = tmp_path / "labels.pdf"
    file.write_bytes(paper.labels(machines[:1], sheet=sheet, begin=begin, at=NOW))
    drawn = subprocess.run(
        [tool("pdftoppm"), "-gray", "-r", str(25.4 * DOTS), str(file)], capture_output=True, check=True
    )
    page = Image.open(BytesIO(drawn.stdout))
    code = segno.make(f"https://hours.example.org/r/{machines[0].code}", error="q", micro=False)
    modules = [list(row) for row in code.matrix_iter(border=4)]
    module = sheet.square / len(modules)
    assert module >= 0.4, "mm; common practice, no source"
    left = sheet.left + (begin - 1) * sheet.across + sheet.pad
    top = sheet.top + (sheet.height - sheet.square) / 2
    seen = [
        [
            page.getpixel((int((left + (x + 0.5) * module) * DOTS), int((top + (y + 0.5) * module) * DOTS)))
            < 128
            for x in range(len(modules))
        ]
        for y in range(len(modules))
    ]
    assert seen == [[bool(dark) for dark in row] for row in modules]
    assert left + 4 * module >= 5, "printers leave about 4 mm at the edge white; common practice, no source"


def test_there_are_no_lines_on_label_sheets_and_some_to_cut_along(machines):
    def darkest_around(pdf, height):
        """The darkest dot of a strip of 2 mm across the page, so many mm down."""
        drawn = subprocess.run(
            [tool("pdftoppm"), "-gray", "-r", "150", "-"], input=pdf, capture_output=True, check=True
        )
        page, dots = Image.open(BytesIO(drawn.stdout)), 150 / 25.4
        strip = page.crop((0, int((height - 1) * dots), page.width, int((height + 1) * dots)))
        return strip.getextrema()[0]

    sheet = SHEETS["a4-2x4"]
    on_labels = paper.labels(machines[:1], sheet=sheet, begin=1, at=NOW)
    assert darkest_around(on_labels, sheet.top + sheet.height) == 255
    cut_out = paper.cut_outs(machines[:1], size="medium", paper="a4", at=NOW)
    assert darkest_around(cut_out, 8 + paper.SIZES["medium"].height) < 255


def test_a_size_whose_code_no_phone_would_read_is_left_out(farm, settings):
    offered = farm.client("counter").get("/machines/stickers/").context["form"].fields["size"]
    assert "letter-3x10" in dict(offered.choices[2][1])
    settings.SITE_URL = f"https://{'-'.join(['hours'] * 36)}.example.org"
    offered = farm.client("counter").get("/machines/stickers/").context["form"].fields["size"]
    assert "letter-3x10" not in dict(offered.choices[2][1])
    assert "letter-2x5" in dict(offered.choices[2][1])
    assert [name for name, _ in offered.choices[0][1]] == ["medium", "large"]
