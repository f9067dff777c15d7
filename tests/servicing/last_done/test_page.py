"""The page: the grid, the list that fills it, and what it refuses; nothing typed is lost."""

from decimal import Decimal
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from openpyxl import Workbook

from fleet.models import Machine
from servicing.last_done.asked import sheets
from servicing.models import Duty, LastDone
from tests.servicing.duties.program_machines import NOW, TODAY, refresh

pytestmark = pytest.mark.time_machine(NOW, tick=False)
PAGE = "/last-done/"


@pytest.fixture
def fields(farm):
    """The names of a machine's inputs, by the codes of its tasks."""

    def name(machine):
        with farm.scope():
            cells = [cell for sheet in sheets([machine.pk]) for cell in sheet.cells.values()]
            return {cell.task.code: f"c-{machine.pk}-{cell.task.pk}" for cell in cells}

    return name


@pytest.fixture
def send(farm):
    def post(*machines, role="manager", path=PAGE, **data):
        ids = ",".join(str(machine.pk) for machine in machines)
        return farm.client(role).post(path, {"machines": ids, "do": "save", **data})

    return post


def kept(farm):
    with farm.scope():
        return {
            (duty.machine.tag, duty.task.code): (duty.last_hours, duty.unknown_on)
            for duty in Duty.objects.select_related("machine", "task").exclude(statements=None)
        }


def test_the_grid_asks_what_is_open(farm, used, fields):
    name = fields(used())
    html = farm.client("manager").get(PAGE).content.decode()
    assert "3 tasks are open" in html
    for code in ("oil", "grease", "brakes"):
        assert f'name="{name[code]}"' in html
    assert "Task first" not in html  # long over


def test_what_is_typed_is_kept(farm, used, fields, send):
    machine = used()
    name = fields(machine)
    answer = send(machine, **{name["oil"]: "3190 h", name["grease"]: "?", name["brakes"]: ""})
    assert answer.status_code == 302
    assert kept(farm) == {("T-07", "oil"): (3190, None), ("T-07", "grease"): (None, TODAY)}
    html = farm.client("manager").get(PAGE).content.decode()
    assert "1 task is open" in html
    assert 'value="3190 h"' in html
    assert 'value="?"' in html
    assert "about " in html


def test_sent_as_it_stands_nothing_changes(farm, used, fields, send):
    machine = used()
    name = fields(machine)
    send(machine, **{name["oil"]: "3190 h"})
    send(machine, **{name["oil"]: "3190 h"})
    with farm.scope():
        assert LastDone.objects.count() == 1


def test_the_rest_is_marked_as_not_known(farm, used, fields, send):
    machine = used()
    name = fields(machine)
    send(machine, do="rest", **{name["oil"]: "3190 h"})
    assert kept(farm) == {
        ("T-07", "oil"): (3190, None),
        ("T-07", "grease"): (None, TODAY),
        ("T-07", "brakes"): (None, TODAY),
    }


def test_two_wrong_at_once_are_both_said_and_nothing_is_kept(farm, used, fields, send):
    machine = used()
    name = fields(machine)
    answer = send(machine, **{name["oil"]: "yesterday-ish", name["grease"]: "9000 h", name["brakes"]: "?"})
    html = answer.content.decode()
    assert answer.status_code == 422
    assert "can&#x27;t be read" in html
    assert "Give no more." in html
    for typed in ("yesterday-ish", "9000 h", "?"):
        assert f'value="{typed}"' in html
    assert kept(farm) == {}


def test_a_cell_cannot_be_emptied(farm, used, fields, send):
    machine = used()
    name = fields(machine)
    send(machine, **{name["oil"]: "3190 h"})
    answer = send(machine, **{name["oil"]: ""})
    assert answer.status_code == 422
    assert "Write ? if nobody knows." in answer.content.decode()


def test_a_list_fills_the_grid_and_keeps_nothing_yet(farm, used, fields, send):
    machine, other = used("T-07"), used("T-08")
    answer = send(machine, other, do="list", list="T-07;Task oil;3190\nT-08;grease;?")
    html = answer.content.decode()
    assert answer.status_code == 200
    assert "2 cells are filled from the list" in html
    assert 'value="3190"' in html
    assert kept(farm) == {}


def test_what_was_typed_beside_a_list_stays(farm, used, fields, send):
    machine = used()
    name = fields(machine)
    answer = send(machine, do="list", list="T-07;grease;?", **{name["oil"]: "3190 h"})
    assert 'value="3190 h"' in answer.content.decode()


def test_lines_that_cannot_be_placed_are_said_and_the_list_stays(farm, used, send):
    machine = used()
    answer = send(machine, do="list", list="T-99;oil;3190\nT-07;oil;3190")
    html = answer.content.decode()
    assert answer.status_code == 422
    assert "no machine of ours is named" in html
    assert "T-99;oil;3190" in html
    assert 'value="3190"' in html


def test_a_workbook_fills_it_too(farm, used, send):
    machine = used()
    book = Workbook()
    for row in (["Machine", "Task", "Hours"], ["T-07", "Task oil", 3190.5]):
        book.active.append(row)
    written = BytesIO()
    book.save(written)
    answer = send(machine, do="list", file=SimpleUploadedFile("last.xlsx", written.getvalue()))
    assert answer.status_code == 200
    assert 'value="3190.5"' in answer.content.decode()


@pytest.mark.parametrize(
    "content", [b"", b"\x00\x01\x02", b"\xd0\xcf\x11\xe0 old", b"PK\x03\x04 not a workbook", b"\xff\xfe\x00"]
)
def test_files_that_are_no_tables_are_refused_in_words(farm, used, send, content):
    answer = send(used(), do="list", file=SimpleUploadedFile("last.csv", content))
    assert answer.status_code == 422
    assert "Not saved yet." in answer.content.decode()


def test_a_file_far_larger_than_a_list_is_not_opened(farm, used, send):
    answer = send(used(), do="list", file=SimpleUploadedFile("last.csv", b"T-07;oil;3190\n" * 100_000))
    assert answer.status_code == 422
    assert "larger than 1 MB" in answer.content.decode()


def test_neither_list_nor_file_is_said(used, send):
    answer = send(used(), do="list")
    assert answer.status_code == 422
    assert "Paste a list or choose a file." in answer.content.decode()


def test_another_organisations_machine_is_not_there(farm, stranger, used, fields, send):
    machine = used()
    theirs = stranger.machine(tag="S-1")
    name = fields(machine)
    answer = send(theirs, **{f"c-{theirs.pk}-1": "3190 h", name["oil"]: "3190 h"})
    assert answer.status_code == 302
    assert kept(farm) == {}


@pytest.mark.parametrize("ids", ["", "x", "9" * 30, "1,,2", "-1", "٣"])
def test_a_tampered_list_of_machines_keeps_nothing(farm, used, ids):
    used()
    answer = farm.client("manager").post(PAGE, {"machines": ids, "do": "save"})
    assert answer.status_code == 302
    assert kept(farm) == {}


@pytest.mark.parametrize("ask", ["?machine=x", "?machine=" + "9" * 30, "?page=99", "?machine=0"])
def test_odd_addresses_show_a_page(farm, used, ask):
    used()
    assert farm.client("manager").get(PAGE + ask).status_code == 200


def test_one_machine_alone(farm, used):
    machine, other = used("T-07"), used("T-08")
    html = farm.client("manager").get(f"{PAGE}?machine={machine.pk}").content.decode()
    assert f'name="c-{machine.pk}-' in html
    assert f'name="c-{other.pk}-' not in html


def test_fields_stay_below_what_a_request_may_have(farm, used, settings):
    for number in range(40):
        used(f"M-{number:02d}")
    html = farm.client("manager").get(PAGE).content.decode()
    assert html.count('name="c-') < settings.DATA_UPLOAD_MAX_NUMBER_FIELDS
    assert "Page 1 of 3" in html


def test_without_a_program_nothing_is_asked(farm):
    assert "Nothing is asked yet." in farm.client("owner").get(PAGE).content.decode()


# ------------------------------------------------------------------ where else it shows


def test_a_machines_page_says_what_is_open_and_what_was_said(farm, used, fields, send, tell):
    machine = used()
    with farm.scope():
        refresh(machine, now=NOW)
    html = farm.client("manager").get(f"/machines/{machine.pk}/").content.decode()
    assert "nobody has said when 3 tasks were last done" in html
    assert "nobody has said" not in farm.client("technician").get(f"/machines/{machine.pk}/").content.decode()
    with farm.scope():
        tell(machine, "oil", "3190 h")
        tell(machine, "grease", "?")
        tell(machine, "brakes", "12.10.2025")
    html = farm.client("manager").get(f"/machines/{machine.pk}/").content.decode()
    assert "nobody has said" not in html
    assert "not known: inspect it" in html
    assert html.count("as stated") == 2


def test_today_proposes_the_inspection(farm, used, tell):
    machine = used()
    with farm.scope():
        tell(machine, "oil", "?")
    html = farm.client("manager").get("/").content.decode()
    part = html[html.index("To inspect first") :]
    assert "Task oil" in part
    assert f"/orders/new/?machine={machine.pk}" in part
    assert "To inspect first" not in farm.client("counter").get("/").content.decode()


def test_once_on_an_order_it_is_not_proposed_again(farm, used, tell):
    from servicing import workorders

    with farm.scope():
        duty = tell(used(), "oil", "?")
        workorders.plan(member=farm.manager, machine=Machine.objects.get(), duties=[duty])
    assert "To inspect first" not in farm.client("manager").get("/").content.decode()


# ------------------------------------------------------------------ over the API


def api(machine):
    return f"/api/v1/machines/{machine.pk}/last-done"


def test_the_api_tells_and_is_told(farm, used):
    machine, client = used(), farm.api("manager")
    listed = {each["task"]: each for each in client.get(api(machine)).json()}
    assert listed["oil"] == {
        "task": "oil",
        "title": "Task oil",
        "state": "asked",
        "hours": None,
        "on": None,
        "estimated": None,
    }
    told = client.post(api(machine), {"task": "oil", "hours": "3190"}, format="json").json()
    assert (told["state"], told["hours"], told["estimated"]) == ("stated", "3190.00", "on")
    told = client.post(api(machine), {"task": "oil", "unknown": True}, format="json").json()
    assert (told["state"], told["hours"]) == ("unknown", None)


@pytest.mark.parametrize(
    ("body", "status", "pointer"),
    [
        ({"task": "oil"}, 400, "/unknown"),
        ({"task": "oil", "hours": "1", "unknown": True}, 400, "/unknown"),
        ({"task": "none", "unknown": True}, 400, "/task"),
        ({"task": "oil", "hours": "9000"}, 422, "/hours"),
        ({"task": "oil", "on": "2027-01-01"}, 422, "/on"),
        ({"task": "oil", "on": "1/2/2025"}, 400, "/on"),
        ({"task": "oil", "hours": "-1"}, 400, "/hours"),
        ({"task": "oil", "unknown": True, "odd": 1}, 400, "/odd"),
    ],
)
def test_the_api_refuses_what_cannot_be(farm, used, body, status, pointer):
    answer = farm.api("manager").post(api(used()), body, format="json")
    assert answer.status_code == status
    assert f"#{pointer}" in [error.get("pointer") for error in answer.json()["errors"]]
    assert kept(farm) == {}


def test_a_total_that_is_not_hours_has_no_place_in_it(farm, used):
    answer = farm.api("manager").post(api(used()), {"task": "oil", "hours": "NaN"}, format="json")
    assert answer.status_code == 400
    assert Decimal(0) == sum((hours or 0 for hours, _on in kept(farm).values()), Decimal(0))
