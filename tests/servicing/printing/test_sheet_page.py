"""Who gets the sheet as a PDF, on which paper; the closing page follows it."""

import re

import pytest
from django.urls import reverse

from servicing import workorders
from servicing.job_sheet.build import build_job_sheet


@pytest.fixture
def planned(farm, order):
    return order


@pytest.mark.parametrize("role", ["owner", "manager", "technician", "counter"])
def test_every_member_may_print_it(farm, planned, role):
    answer = farm.client(role).get(reverse("order-sheet-pdf", args=[planned.pk]))
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    assert answer.content.startswith(b"%PDF-")
    assert answer["Content-Disposition"] == f'inline; filename="order-{planned.number}.pdf"'


def test_a_stranger_finds_nothing_and_a_passer_by_signs_in_first(client, stranger, planned):
    address = reverse("order-sheet-pdf", args=[planned.pk])
    assert address == f"/orders/{planned.pk}/sheet.pdf"
    assert stranger.client("owner").get(address).status_code == 404
    answer = client.get(address)
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("login"))
    assert stranger.client("owner").post(address).status_code == 405


@pytest.mark.parametrize(
    ("units", "asked", "width"),
    [
        ("metric", "", 595),
        ("us", "", 612),
        ("metric", "letter", 612),
        ("us", "a4", 595),
        ("us", "foolscap", 612),
    ],
)
def test_the_paper_is_as_asked_or_as_usual(farm, planned, about, units, asked, width):
    farm.organisation.units = units
    farm.organisation.save()
    made = farm.client("counter").get(reverse("order-sheet-pdf", args=[planned.pk]), {"paper": asked}).content
    assert int(float(about(made)["Page size"].split()[0])) == width


def test_the_closing_page_asks_in_the_order_of_the_sheet(farm, planned):
    workorders.start(order=planned, member=farm.manager, revision=planned.revision)
    browser = farm.client("technician")
    built = build_job_sheet(planned)
    closing = browser.get(reverse("order-close", args=[planned.pk])).content.decode()
    asked = re.findall(r'id="line-(\d+)"[^>]*>\s*<summary><h2>(\d+)\. ', closing)
    assert asked == [(str(row.line.pk), str(row.number)) for row in built.lines]
    on_screen = browser.get(reverse("order-sheet", args=[planned.pk])).content.decode()
    assert re.findall(r'<details class="more chapter" id="line-(\d+)"', on_screen) == [
        str(row.line.pk) for row in built.lines
    ]
    assert f'href="{reverse("order-close", args=[planned.pk])}">Enter a filled-in sheet</a>' in on_screen


def test_a_filled_sheet_is_offered_to_be_typed_in_only_while_work_is_on(farm, planned):
    address = reverse("order-sheet", args=[planned.pk])
    assert "Enter a filled-in sheet" not in farm.client("technician").get(address).content.decode()
    workorders.start(order=planned, member=farm.manager, revision=planned.revision)
    assert "Enter a filled-in sheet" in farm.client("technician").get(address).content.decode()
    assert "Enter a filled-in sheet" not in farm.client("counter").get(address).content.decode()
