"""Stickers as they are printed, read back with poppler's tools as a printer would see them."""

import re
import shutil
import subprocess

import pytest
import segno
from django.urls import reverse

from servicing.printing import stickers_pdf as paper
from servicing.printing.label_sheets import SHEETS
from tests.factories import MachineTypeFactory, YardFactory


@pytest.fixture(autouse=True)
def known_address(settings):
    settings.SITE_URL = "https://hours.example.org"


@pytest.fixture
def read(tmp_path):
    """Return the words of each page of a PDF."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler-utils) is not installed")

    def read(pdf):
        file = tmp_path / "stickers.pdf"
        file.write_bytes(pdf)
        done = subprocess.run(["pdftotext", "-raw", str(file), "-"], capture_output=True, check=True)
        return [" ".join(page.split()) for page in done.stdout.decode().split("\f")[:-1]]

    return read


@pytest.fixture
def fleet(farm):
    with farm.scope():
        far = YardFactory(organisation=farm.organisation, name="Far barn")
    return [farm.machine(tag="T-01"), farm.machine(tag="T-02", yard=far), farm.machine(tag="T-03", yard=far)]


def sheet(house, **asked):
    answer = house.client("counter").get(reverse("machine-stickers-pdf"), asked)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    return answer.content


def test_a_sticker_says_tag_address_and_whose_it_is(farm, fleet, read):
    (page,) = read(sheet(farm, machine=fleet[0].pk))
    assert "T-01" in page
    assert f"hours.example.org/r/ {fleet[0].code}" in page
    assert "Scan to enter hours, or type:" in page
    assert "Alder Farm" in page
    assert "T-02" not in page


def test_of_one_yard_of_chosen_machines_or_of_all(farm, fleet, read):
    def tags(**asked):
        return re.findall(r"T-0\d", " ".join(read(sheet(farm, **asked))))

    assert tags() == ["T-01", "T-02", "T-03"]
    assert tags(yard=fleet[1].yard.pk) == ["T-02", "T-03"]
    assert tags(machine=[fleet[2].pk, fleet[0].pk]) == ["T-01", "T-03"]
    assert tags(machine=["x", "²", fleet[0].pk, 987654321]) == ["T-01"]


def test_neither_strangers_nor_what_has_no_meter(farm, stranger, fleet):
    theirs = stranger.machine(tag="X-01")
    with farm.scope():
        kind = MachineTypeFactory(organisation=farm.organisation, category="attachment")
        loader = farm.attachment(type=kind)
    client = farm.client("counter")
    for asked in ({"machine": theirs.pk}, {"yard": theirs.yard.pk}, {"machine": loader.pk}, {"yard": "x"}):
        answer = client.get(reverse("machine-stickers-pdf"), asked)
        assert answer.url.split("?")[0] == reverse("machine-stickers"), asked
    assert client.get(reverse("machine-sticker", args=[theirs.pk])).status_code == 404
    assert "X-01" not in client.get(reverse("machine-stickers")).content.decode()


# A4 is 210 x 297 mm (ISO 216), of which 8 mm are left free all around: so many across and down
@pytest.mark.parametrize(("size", "a_page"), [("small", 3 * 11), ("medium", 2 * 7), ("large", 1 * 4)])
def test_as_many_as_fit_on_a_sheet(farm, read, size, a_page):
    for number in range(a_page + 1):
        farm.machine(tag=f"T-{number:03d}")
    pages = read(sheet(farm, size=size, paper="a4"))
    assert [len(re.findall(r"T-\d{3}", page)) for page in pages] == [a_page, 1]


def test_many_come_in_parts(farm, fleet, read, monkeypatch):
    monkeypatch.setattr(paper, "MOST", 2)
    shown = farm.client("counter").get(reverse("machine-stickers")).content.decode()
    assert re.findall(r"Part (\d) of 2", shown) == ["1", "2"]
    parts = [re.findall(r"T-0\d", " ".join(read(sheet(farm, part=part)))) for part in ("1", "2")]
    assert parts == [["T-01", "T-02"], ["T-03"]]


A_WORD = "That isn&#x27;t on the list. Choose again."


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"paper": "none such"}, [A_WORD]),
        ({"size": "none such"}, [A_WORD]),
        ({"yard": "none such"}, [A_WORD]),
        ({"size": "a4-3x7", "begin": "22"}, ["This sheet has 21 labels. Give a number from 1 to 21."]),
        ({"size": "letter-3x10", "begin": "31"}, ["This sheet has 30 labels. Give a number from 1 to 30."]),
        ({"size": "a4-3x7", "begin": "0"}, ["Give 1 at least."]),
        ({"size": "a4-3x7", "begin": "x"}, ["Give a whole number, like 12."]),
        ({"size": "none such", "begin": "0"}, [A_WORD, "Give 1 at least."]),
        ({"yard": "x", "begin": "0"}, [A_WORD, "Give 1 at least."]),
    ],
)
def test_what_is_wrong_is_said_and_nothing_else_printed(farm, fleet, asked, said):
    """And what was chosen is still chosen."""
    asked = {**asked, "machine": fleet[1].pk}
    page = farm.client("counter").get(reverse("machine-stickers-pdf"), asked, follow=True)
    assert page.redirect_chain[0][0].startswith(reverse("machine-stickers"))
    shown = page.content.decode()
    assert ("No such yard." in shown) == ("yard" in asked)
    assert ("Not printed yet." in shown) == (asked.keys() > {"yard", "machine"} or "yard" not in asked)
    for sentence in said:
        assert sentence in shown
    assert re.findall(r'value="(\d+)" checked', shown) == [str(fleet[1].pk)]


def test_what_was_chosen_on_another_page_stays_chosen(farm, fleet, monkeypatch):
    monkeypatch.setattr("servicing.web.stickers.ROWS", 1)
    chosen = {"machine": [fleet[0].pk, fleet[2].pk], "begin": "0"}
    shown = farm.client("counter").get(reverse("machine-stickers-pdf"), chosen, follow=True).content.decode()
    assert sorted(re.findall(r'value="(\d+)" checked', shown)) == sorted(str(fleet[at].pk) for at in (0, 2))


def test_a_first_label_means_nothing_to_what_is_cut_out(farm, fleet, read):
    (page,) = read(sheet(farm, size="small", begin="99"))
    assert re.findall(r"T-0\d", page) == ["T-01", "T-02", "T-03"]


def test_long_words_and_words_that_look_like_markup_stay_on_the_sticker(farm, read, settings):
    settings.SITE_URL = "https://hours.a-rather-long-name-of-a-hire-company.example.org"
    tag = '#panic("no") *x* $y$ <z> @a \\'
    made = farm.machine(tag=tag)
    for size in (*paper.SIZES, *SHEETS):
        (page,) = read(sheet(farm, machine=made.pk, size=size))
        assert tag in page
        assert made.code in page


def test_the_square_leads_to_the_machine_and_bears_dirt(farm, fleet):
    drawn = paper._sticker(fleet[0])["square"]
    code = segno.make(f"https://hours.example.org/r/{fleet[0].code}", error="q", micro=False)
    assert code.error in ("Q", "H")
    side = code.symbol_size(border=4)[0]  # four modules stay free, as ISO/IEC 18004 asks
    assert f'viewBox="0 0 {side} {side}"' in drawn


def test_a_lost_sticker_is_renewed_by_who_may_change_the_fleet(farm, fleet):
    lost = fleet[0]
    address = reverse("machine-sticker-renew", args=[lost.pk])
    assert farm.client("technician").post(address).status_code == 403
    shown = farm.client("manager").post(address, follow=True)
    with farm.scope():
        fresh = type(lost).objects.get(pk=lost.pk).code
    assert fresh != lost.code
    assert f"hours.example.org/r/{fresh}" in shown.content.decode()
    client = farm.client("counter")
    assert client.get(reverse("phone-machine", args=[lost.code])).status_code == 404
    assert client.get(reverse("phone-machine", args=[fresh])).status_code == 200


def test_who_may_not_change_the_fleet_is_not_offered_to(farm, fleet):
    shown = farm.client("technician").get(reverse("machine-sticker", args=[fleet[0].pk]))
    assert "Renew the code" not in shown.content.decode()
