"""Several machines are added from one list on a page: few presses, and nothing that was typed is lost."""

import re
from datetime import date
from html import unescape
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django_scopes import scopes_disabled
from openpyxl import Workbook

from fleet.models import Machine, MachineType, Yard
from tests.factories import MachineTypeFactory
from tests.sent_form import as_sent

URL = "/machines/list/"
LIST = (
    "Fleet no\tMake\tModel\tCategory\tHours\tIn service since\n"
    "T-01\tArden\t40C\tSchlepper\t1204.5\t2019-05-13\n"
)


def tags():
    with scopes_disabled():
        return sorted(Machine.objects.values_list("tag", flat=True))


def form_of(answer):
    """What a browser would send of the page's own form."""
    page = answer.content.decode()
    sent = as_sent(page, holding="columns" if 'name="columns"' in page else "grid")
    return {name: values[0] for name, values in sent.items() if name != "csrfmiddlewaretoken"}


def read(client, text=LIST, **more):
    return client.post(URL, {"do": "read", "pasted": text} | more)


def test_a_list_takes_two_presses(farm):
    client = farm.client("manager")
    rows = "".join(f"T-{n:02d}\tArden\t40C\tSchlepper\t{n}.5\t2019-05-13\n" for n in range(1, 15))
    answer = read(client, LIST.splitlines(keepends=True)[0] + rows)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "Add 14 machines" in page
    assert "The list says “Schlepper”." in page
    saved = client.post(URL, form_of(answer) | {"do": "save"})
    assert saved["Location"] == reverse("machines")
    assert len(tags()) == 14
    said = client.get(saved["Location"]).content.decode()
    assert "14 machines are added. 1 new model is added." in said


def test_what_is_wrong_stands_beside_its_cell_and_what_was_typed_stays(farm):
    client = farm.client("owner")
    answer = read(client, LIST + "\tArden\t40C\tSchlepper\t<b>many</b>\tsoon\n")
    assert tags() == []
    sent = form_of(answer) | {"do": "save"}
    again = client.post(URL, sent)
    assert again.status_code == 422
    page = again.content.decode()
    assert "<title>Error: " in page
    assert "3 cells must be put right." in page
    assert form_of(again) | {"do": "save"} == sent
    for cell in ("cell-2-tag", "cell-2-hours", "cell-2-since"):
        assert f'href="#{cell}"' in page
        assert re.search(rf'id="{cell}"[^>]*aria-invalid="true"', page)
    mended = form_of(again) | {
        "cell-2-tag": "T-02",
        "cell-2-hours": "7",
        "cell-2-since": "2020",
        "do": "save",
    }
    assert client.post(URL, mended).status_code == 302
    assert tags() == ["T-01", "T-02"]


def test_columns_that_are_not_plain_are_asked(farm):
    client = farm.client("manager")
    asked = read(client, "T-01;Arden;40C;1204,5\nT-02;Brock;ME 18;871\n")
    assert "What the columns hold" in asked.content.decode()
    told = form_of(asked)
    assert [told[f"column-{place}"] for place in (1, 2, 3, 4)] == ["tag", "maker", "model", "hours"]
    twice = client.post(URL, told | {"column-2": "hours", "do": "columns"})
    assert twice.status_code == 422
    assert form_of(twice)["grid"].split() == told["grid"].split()
    table = form_of(client.post(URL, told | {"do": "columns"}))
    assert (table["cell-2-maker"], table["cell-2-model"], table["cell-1-hours"]) == (
        "Brock",
        "ME 18",
        "1204,5",
    )


def test_the_first_row_may_hold_headings_in_no_language_of_ours(farm):
    client = farm.client("manager")
    asked = read(client, "Numerek;Maszyna;Motogodz\nT-01;Arden 40C;1204,5\nT-02;Brock ME 18;87,5\n")
    sent = form_of(asked) | {"column-1": "tag", "column-2": "type", "column-3": "hours"}
    table = form_of(client.post(URL, sent | {"first_is_heading": "on", "do": "columns"}))
    assert (table["rows"], table["cell-1-tag"]) == ("2", "T-01")


def test_the_ones_we_have_can_be_left_out(farm):
    client = farm.client("manager")
    farm.machine(tag="t01")
    answer = read(client, LIST + "T-02\tArden\t40C\tSchlepper\t7\t2020-01-31\n")
    assert "t01 is here already." in answer.content.decode()
    refused = client.post(URL, form_of(answer) | {"do": "save"})
    assert refused.status_code == 422
    assert client.post(URL, form_of(refused) | {"leave_known": "on", "do": "save"}).status_code == 302
    assert tags() == ["T-02", "t01"]
    none = client.post(URL, form_of(refused) | {"leave_known": "on", "do": "save"})
    assert "There is nothing to add." in none.content.decode()


def test_a_yard_and_a_model_in_one_column_are_settled_on_the_page(farm):
    client = farm.client("manager")
    answer = read(client, "Tag\tModel\tSince\tYard\nT-1\tVan Arden 40C\t2019-05-13\tQuarry\n")
    sent = form_of(answer)
    (maker,) = [name for name in sent if name.endswith("-maker") and name.startswith("model-")]
    (yard,) = [name for name in sent if re.fullmatch("yard-[0-9a-f]{12}", name)]
    open_ = client.post(URL, sent | {"do": "save"})
    assert open_.status_code == 422
    more = {
        maker: "Van Arden",
        maker.replace("-maker", "-model"): "40C",
        maker.replace("-maker", "-category"): "tractor",
        yard: "add",
    }
    assert client.post(URL, sent | more | {"do": "save"}).status_code == 302
    with scopes_disabled():
        assert str(MachineType.objects.get()) == "Van Arden 40C"
        assert Yard.objects.filter(name="Quarry").exists()


def test_another_organisations_yard_is_no_answer(farm, stranger):
    client = farm.client("manager")
    sent = form_of(read(client, "Tag\tMake\tModel\tSince\tYard\nT-1\tArden\t40C\t2019-05-13\tQuarry\n"))
    (yard,) = [name for name in sent if re.fullmatch("yard-[0-9a-f]{12}", name)]
    (category,) = [name for name in sent if name.endswith("-category")]
    said = {category: "tractor", yard: str(stranger.yard.pk), "do": "save"}
    assert client.post(URL, sent | said).status_code == 422
    assert tags() == []


def workbook(*rows):
    book = Workbook()
    for row in rows:
        book.active.append(row)
    file = BytesIO()
    book.save(file)
    return SimpleUploadedFile("machines.xlsx", file.getvalue())


def test_a_workbook_is_read_with_its_days_and_figures(farm):
    file = workbook(
        ["Nr.", "Hersteller", "Modell", "Betriebsstunden", "Im Einsatz seit", "Vermietung"],
        [17, "Arden", "40C", 1204.5, date(2019, 5, 3), True],
    )
    table = form_of(read(farm.client("manager"), "", file=file))
    assert [table[f"cell-1-{name}"] for name in ("tag", "hours", "since", "for_hire")] == [
        "17",
        "1204.5",
        "2019-05-03",
        "x",
    ]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "Paste your list, or choose a file."),
        ("   \n\t\n", "Paste your list, or choose a file."),
        ("Fleet no\tMake\tModel\n", "No machine stands in this list."),
        ("a\n" * 600, "At most 500 machines can be added at once."),
        ("\t".join(f"c{n}" for n in range(60)) + "\n" + "\t".join("x" * 60), "60 columns"),
        ("x" * 1_100_000, "larger than 1 MB"),
    ],
)
def test_what_is_no_list_is_refused_and_kept(farm, text, said):
    answer = read(farm.client("manager"), text)
    assert answer.status_code == 422
    page = unescape(answer.content.decode())
    assert said in page
    assert answer.context["pasted"] == text


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("empty.csv", b"", "empty.csv is empty."),
        ("picture.png", b"\x89PNG\r\n\0\0", "neither a CSV nor an XLSX file"),
        ("broken.xlsx", b"PK\x03\x04 nothing", "can't be read as a workbook"),
        ("old.xls", b"\xd0\xcf\x11\xe0 old", "old kind of workbook"),
        ("large.csv", b"x" * 1_100_000, "larger than 1 MB"),
    ],
)
def test_what_is_no_file_of_a_list_is_refused(farm, name, content, said):
    answer = read(farm.client("manager"), "", file=SimpleUploadedFile(name, content))
    assert answer.status_code == 422
    assert said in unescape(answer.context["wrong"]["file"])


@pytest.mark.parametrize(
    "sent",
    [
        {"do": "save"},
        {"do": "save", "columns": "tag", "rows": "501"},
        {"do": "save", "columns": "tag", "rows": "9" * 30},
        {"do": "save", "columns": "nothing", "rows": "1"},
        {"do": "columns", "grid": ""},
        {"do": "columns", "grid": "a\tb", "head": "9", "named_at": "7"},
        {"do": "columns", "grid": "a\tb\nc", "head": "0", "column-1": "tag", "column-2": "nothing"},
        {"do": "check", "columns": "tag,tag", "rows": "1", "cell-1-tag": "a\0b"},
        {"do": "whatever"},
    ],
)
def test_a_tampered_form_is_answered(farm, sent):
    assert farm.client("manager").post(URL, sent).status_code in (200, 422)
    assert tags() == []


def test_rows_can_be_added_by_hand(farm):
    client = farm.client("manager")
    answer = client.post(URL, form_of(read(client)) | {"do": "rows"})
    assert form_of(answer)["rows"] == "6"


def test_five_hundred_machines_come_back_with_all_their_cells(farm):
    MachineTypeFactory(organisation=farm.organisation, maker="Arden", model="40C")
    head = (
        "Tag\tMake\tModel\tCategory\tSerial\tPIN\tHours\tHours read on\tHours when bought\tIn service\t"
        "Price\tYard\tFor hire\tWorks in\tNote\n"
    )
    row = "T-{0}\tArden\t40C\ttractor\tS{0}\t\tx\t\t\t2019-05-13\t\t\tyes\tdust\tnew\n"
    client = farm.client("manager")
    answer = read(client, head + "".join(row.format(n) for n in range(500)))
    assert answer.status_code == 200
    again = client.post(URL, form_of(answer) | {"do": "save"})
    assert again.status_code == 422
    assert form_of(again)["cell-500-tag"] == "T-499"
    too_many = read(client, head + "".join(row.format(n) for n in range(501)))
    assert "At most 500 machines" in too_many.content.decode()


@pytest.mark.parametrize("role", ["technician", "counter"])
def test_others_add_no_machines(farm, role):
    assert farm.client(role).get(URL).status_code == 403
    assert read(farm.client(role)).status_code == 403


@pytest.mark.parametrize("name", ["machine-new", "machines", "today"])
def test_the_way_to_it(farm, name):
    assert f'href="{URL}"' in farm.client("manager").get(reverse(name)).content.decode()
