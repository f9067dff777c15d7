"""The gate's pages, as the counter uses them."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from fleet.models import Hire, Machine, Reading, TagOut
from servicing.measurements import retest
from servicing.models import Defect, SafetyFailure
from tests.factories import CheckFactory, DutyFactory, MachineFactory, ReadingFactory, WorkOrderFactory
from tests.sent_form import as_sent

NOW = datetime(2026, 5, 3, 10, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def frozen(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    with time_machine.travel(NOW, tick=False):
        yield


def unit(house, tag="T-07", **values):
    values = {"hours": Decimal(100), "hours_at": NOW, "for_hire": True, **values}
    machine = MachineFactory(organisation=house.organisation, yard=house.yard, tag=tag, **values)
    ReadingFactory(machine=machine, taken_at=NOW - timedelta(days=2), shows=Decimal(100))
    return machine


def duty(machine, mark, **values):
    return DutyFactory(
        machine=machine, mark_hours=Decimal(mark), early=None, likely=None, late=None, **values
    )


def hire(machine, **values):
    asked = {"hirer": "Gala Ros", "out_at": NOW - timedelta(days=4), "hours_out": 90, **values}
    Hire(organisation=machine.organisation, machine=machine, **asked).save()


def tag_out(machine, member, reason="Brakes failed"):
    made = TagOut(organisation=machine.organisation, machine=machine, reason=reason, placed_by=member)
    made.save()
    return made


def page(house, role="counter", path="/gate/", **data):
    answer = house.client(role).get(path, data)
    assert answer.status_code == 200
    return answer.content.decode().replace("\xa0", " ")


def section(html, heading):
    assert f">{heading}</h2>" in html
    return html.split(f">{heading}</h2>")[1].split("</section>")[0]


def faults(*rows):
    data = {"faults-TOTAL_FORMS": 3, "faults-INITIAL_FORMS": 0}
    for n in range(3):
        data[f"faults-{n}-severity"] = "soon"
    for n, row in enumerate(rows):
        data |= {f"faults-{n}-{name}": value for name, value in row.items()}
    return data


def picture():
    file = BytesIO()
    Image.new("RGB", (40, 30), "brown").save(file, "JPEG")
    return SimpleUploadedFile("hose.jpg", file.getvalue())


# ------------------------------------------------------------------ out and back


def test_units_stand_under_what_can_be_done_with_them(farm):
    unit(farm, "T-01")
    duty(unit(farm, "T-02"), 90, task__title="Engine oil")
    tag_out(unit(farm, "T-03"), farm.technician)
    hire(unit(farm, "T-04"), due_back_on=date(2026, 5, 1))
    hire(unit(farm, "T-05"), due_back_on=date(2026, 5, 3), hirer="Pau Vila")
    unit(farm, "T-06", for_hire=False)
    unit(farm, "T-07", in_shop_since=NOW)
    html = page(farm)
    assert "1 ready to go, 2 out, 1 to be serviced first, 2 kept in." in html
    assert "T-01" in section(html, "Ready")
    assert "Engine oil is past its mark: due at 90.0 h, now 100.0 h." in section(html, "Service first")
    kept = section(html, "Tagged out or in the shop")
    assert f"Tagged out by {farm.technician} on 3 May 2026: Brakes failed." in kept
    assert "T-07" in kept
    out = section(html, "Out now")
    assert "With Gala Ros; was due back 1 May, 2 days overdue" in out
    assert "With Pau Vila; due back 3 May" in out
    assert out.index("T-04") < out.index("T-05")
    assert "T-06" not in html


def test_out_and_back_with_the_answer_at_the_top(farm):
    machine = unit(farm)
    duty(machine, 105, task__title="Engine oil")
    counter = farm.client("counter")
    path = reverse("gate-out", args=[machine.pk])
    assert "No tag-out, no fault to fix first" in page(farm, path=path)
    asked = {"hirer": "Gala Ros", "due_back_on": "2026-05-06", "shows": "101.5", "fuel": "100", "note": ""}
    gone = counter.post(path, asked)
    assert (gone.status_code, gone.url) == (302, "/gate/")
    with farm.scope():
        out = Hire.objects.get()
    assert (out.hours_out, out.fuel_out, out.due_back_on) == (Decimal("101.5"), 100, date(2026, 5, 6))

    path = reverse("gate-in", args=[machine.pk])
    assert "from Gala Ros" in page(farm, path=path)
    with time_machine.travel(NOW + timedelta(days=1), tick=False):
        data = {
            "shows": "108",
            "fuel": "50",
            "note": "",
            **faults({"text": "Hose bulging", "severity": "stops", "photo": picture()}),
        }
        answer = counter.post(path, data, follow=True)
    assert answer.redirect_chain == [(f"/gate/?back={machine.pk}", 302)]
    html = answer.content.decode().replace("\xa0", " ")
    top = section(html, "T-07 is back: can it go out again today?")
    assert "Engine oil is past its mark: due at 105.0 h, now 108.0 h." in top
    assert "Hose bulging" in top
    assert html.index("is back: can it") < html.index(">Out now<")
    with farm.scope():
        defect = Defect.objects.get()
        machine.refresh_from_db()
    assert (defect.found_at, defect.reported_by) == ("gate", farm.counter)
    assert defect.photo.size > 0
    assert machine.hours == 108


def test_held_hours_are_said_and_the_return_goes_on(farm):
    machine = unit(farm)
    hire(machine)
    answer = farm.client("counter").post(
        reverse("gate-in", args=[machine.pk]),
        {"shows": "1080", "fuel": "", "note": "", **faults()},
        follow=True,
    )
    assert "are held and don&#x27;t count yet" in answer.content.decode()
    with farm.scope():
        assert Hire.objects.get().back_at == NOW
        assert Reading.objects.get(source="gate").state == "held"


def test_tagged_out_has_no_form_and_posting_anyway_is_refused(farm):
    machine = unit(farm)
    tag_out(machine, farm.technician)
    path = reverse("gate-out", args=[machine.pk])
    html = page(farm, "owner", path)
    assert f"Tagged out by {farm.technician}" in html
    assert 'name="hirer"' not in html
    asked = {
        "hirer": "Gala",
        "anyway_reason": "Must go",
        "due_back_on": "",
        "shows": "",
        "fuel": "",
        "note": "",
    }
    answer = farm.client("owner").post(path, asked)
    assert answer.status_code == 200
    assert "T-07 can&#x27;t go out. Tagged out by" in answer.content.decode()
    with farm.scope():
        assert not Hire.objects.exists()


def test_service_first_is_the_planners_to_override(farm):
    machine = unit(farm)
    duty(machine, 90)
    path = reverse("gate-out", args=[machine.pk])
    asked = {"hirer": "Gala", "due_back_on": "", "shows": "", "fuel": "", "note": ""}
    assert "anyway_reason" not in page(farm, "counter", path)
    refused = farm.client("counter").post(path, {**asked, "anyway_reason": "Must go"})
    assert "Someone who plans the work may send it anyway" in refused.content.decode()
    assert "Send out anyway" not in page(farm, "counter")
    assert "Send out anyway" in page(farm, "manager")
    refused = farm.client("manager").post(path, asked)
    assert "To send it out anyway, write why" in refused.content.decode()
    assert 'value="Gala"' in refused.content.decode()
    gone = farm.client("manager").post(path, {**asked, "anyway_reason": "Short day"})
    assert gone.status_code == 302
    with farm.scope():
        [kept] = Hire.objects.get().overrulings()
        assert (kept.by, kept.reason) == (str(farm.manager), "Short day")


def test_length_of_the_hire_is_judged_when_the_form_comes(farm):
    machine = unit(farm)
    DutyFactory(
        machine=machine,
        mark_hours=Decimal(300),
        task__title="Engine oil",
        early=date(2026, 5, 10),
        likely=date(2026, 5, 15),
        late=date(2026, 5, 25),
    )
    asked = {"hirer": "Gala", "due_back_on": "2026-05-16", "shows": "", "fuel": "", "note": ""}
    path = reverse("gate-out", args=[machine.pk])
    answer = farm.client("counter").post(path, asked).content.decode()
    assert "Engine oil will more likely than not fall due (5 to 9 chances in 10) before it is back" in answer
    assert farm.client("counter").post(path, {**asked, "due_back_on": "2026-05-09"}).status_code == 302


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"shows": "12x"}, "Write the number as the meter shows it"),
        ({"shows": "1,120.5"}, "can be read in two ways"),
        ({"shows": "-1"}, "show less than nothing"),
        ({"faults-0-photo": SimpleUploadedFile("a.jpg", b"not a photo")}, "This file is no photo"),
        ({"faults-0-text": "", "faults-0-photo": "picture"}, "Say what the photo shows."),
    ],
)
def test_wrong_entries_are_said_at_their_field_and_nothing_is_kept(farm, wrong, said):
    machine = unit(farm)
    hire(machine)
    data = {"shows": "101", "fuel": "", "note": "Muddy", **faults({"text": "Leak"}), **wrong}
    data = {name: picture() if value == "picture" else value for name, value in data.items()}
    answer = farm.client("counter").post(reverse("gate-in", args=[machine.pk]), data)
    html = answer.content.decode()
    assert answer.status_code == 200
    assert said in html.split('class="field')[0]  # in the box at the top
    assert html.count(said) >= 2  # and at the field
    assert "Muddy" in html
    with farm.scope():
        assert Hire.objects.get().back_at is None
        assert not Defect.objects.exists()


@pytest.mark.parametrize("way", ["gate-out", "gate-in"])
def test_a_decimal_comma_is_hours_and_a_text_box_asks_for_them(farm, way):
    machine = unit(farm)
    if way == "gate-in":
        hire(machine)
    path = reverse(way, args=[machine.pk])
    box = page(farm, path=path).split('name="shows"')[0].rsplit("<input", 1)[1]
    assert 'type="text"' in box
    refused = farm.client("counter").post(
        path, {"hirer": "Gala Ros", "shows": "1,120.5", "hours_a_day": "6,5x", **faults()}
    )
    html = refused.content.decode()
    assert "can be read in two ways" in html
    assert 'value="1,120.5"' in html
    if way == "gate-out":
        assert 'value="6,5x"' in html
    answer = farm.client("counter").post(
        path, {"hirer": "Gala Ros", "shows": "100,5", "hours_a_day": "6,5", **faults()}
    )
    assert answer.status_code == 302
    with farm.scope():
        assert Reading.objects.latest("pk").shows == Decimal("100.5")
        if way == "gate-out":
            assert Hire.objects.get().hours_a_day == Decimal("6.5")


def test_second_return_says_who_took_it_in(farm):
    machine = unit(farm)
    hire(machine, back_at=NOW, back_by=farm.manager)
    path = reverse("gate-in", args=[machine.pk])
    assert "This unit is not out." in page(farm, path=path)
    answer = farm.client("counter").post(path, {"shows": "", "fuel": "", "note": "", **faults()})
    assert f"It was taken back by {farm.manager} on 3 May 2026 at 12:00" in answer.content.decode()


def test_the_second_who_takes_it_back_keeps_what_was_typed_beside_the_return(farm):
    machine = unit(farm)
    hire(machine, note="With trailer", out_by=farm.counter)
    path = reverse("gate-in", args=[machine.pk])
    sent = as_sent(page(farm, path=path))
    assert farm.client("manager").post(path, sent | {"note": "Muddy", "fuel": "50"}).status_code == 302
    typed = (
        sent | {"shows": "101.5", "fuel": "25", "note": "Mirror gone"} | faults({"text": "Mirror cracked"})
    )
    second = farm.client("counter")
    html = second.post(path, typed).content.decode()
    assert f"It was taken back by {farm.manager} on 3 May 2026 at 12:00 from Gala Ros" in html
    again = as_sent(html)
    assert (again["shows"], again["note"], again["faults-0-text"]) == (
        ["101.5"],
        ["Mirror gone"],
        ["Mirror cracked"],
    )
    assert "fuel" not in again, "the tank was recorded, and stays so"
    assert "Take it back" not in html
    kept = second.post(path, again | {"late": "yes"}, follow=True)
    assert "is kept beside the return" in kept.content.decode()
    with farm.scope():
        ended = Hire.objects.get()
        assert (ended.hours_back, ended.fuel_back, ended.back_by) == (Decimal("101.5"), 50, farm.manager)
        assert Defect.objects.get().text == "Mirror cracked"
    html = page(farm, path=machine.get_absolute_url())
    for said in ("With trailer", "Muddy", f"Mirror gone ({farm.counter}, 3 May 2026)"):
        assert said in html


def test_a_page_of_an_ended_hire_never_ends_the_next(farm):
    machine = unit(farm)
    hire(machine)
    path = reverse("gate-in", args=[machine.pk])
    sent = as_sent(page(farm, path=path))
    assert farm.client("manager").post(path, sent).status_code == 302
    with farm.scope():
        hire(machine, hirer="Pau Vila", out_at=NOW)
    for _ in range(2):
        html = farm.client("counter").post(path, sent | {"note": "Muddy"}).content.decode()
        assert "It is out with Pau Vila since 3 May 2026 at 12:00" in html
        assert as_sent(html)["note"] == ["Muddy"]
    with farm.scope():
        assert Hire.objects.open().get().hirer == "Pau Vila"


def test_the_second_who_sends_it_out_is_told_by_whom_and_can_use_what_was_typed(farm):
    machine = unit(farm)
    path = reverse("gate-out", args=[machine.pk])
    first = {"hirer": "Gala Ros", "due_back_on": "2026-05-06", "shows": "101.5", "note": "With trailer"}
    assert farm.client("manager").post(path, first).status_code == 302
    typed = {"hirer": "Pau <b>Vila</b>", "due_back_on": "2026-05-08", "shows": "101,7", "fuel": "50"}
    html = (
        farm.client("counter").post(path, typed).content.decode().replace("\xa0", " ").replace("\u202f", " ")
    )
    told = (
        f"It is out with Gala Ros since 3 May 2026 at 12:00, sent out by {farm.manager}, due back 6 May 2026"
    )
    assert f"{told}, at 101.5 h." in html
    assert "With trailer" in html
    mine = html.split(">What you typed</h2>")[1]
    for said in ("Pau &lt;b&gt;Vila&lt;/b&gt;", "8 May 2026", "101,7", "Half"):
        assert said in mine
    reading = f"{reverse('reading-new')}?machine={machine.pk}&shows=101%2C7"
    assert reading.replace("&", "&amp;") in mine
    assert 'value="101,7"' in page(farm, path=reverse("reading-new"), machine=machine.pk, shows="101,7")
    with farm.scope():
        assert Hire.objects.get().hirer == "Gala Ros"


@pytest.mark.parametrize("place", ["gate", "today", "machine", "gate-in"])
def test_the_note_of_a_hire_is_shown_where_it_is_wanted(farm, place):
    machine = unit(farm)
    hire(machine, note="Trailer <b>too</b>", out_by=farm.manager, due_back_on=date(2026, 5, 3))
    path = reverse(place, args=[machine.pk] if place in ("machine", "gate-in") else [])
    html = page(farm, role="owner", path=path)
    assert "Trailer &lt;b&gt;too&lt;/b&gt;" in html
    assert f"{farm.manager}, 29 Apr, 12:00" in html.replace("\u202f", " ")


def test_a_unit_retired_while_out_can_still_come_back_and_not_go_again(farm):
    machine = unit(farm)
    hire(machine)
    with farm.scope():
        Machine.objects.filter(pk=machine.pk).update(retired_on=date(2026, 5, 2))
    assert "T-07" in section(page(farm), "Out now")
    data = {"shows": "", "fuel": "", "note": "", **faults()}
    assert farm.client("counter").post(reverse("gate-in", args=[machine.pk]), data).status_code == 302
    assert "T-07" not in page(farm)
    html = page(farm, path=reverse("gate-out", args=[machine.pk]))
    assert "T-07 was retired on 2 May." in html
    assert 'name="hirer"' not in html


# ------------------------------------------------------------------ faults, tag-outs and their clearing


def test_fault_is_reported_from_the_machines_page(farm):
    machine = unit(farm)
    path = reverse("defect-new", args=[machine.pk])
    assert 'capture="environment"' in page(farm, "technician", path)
    answer = farm.client("technician").post(path, {"text": "Leak", "severity": "note", "photo": picture()})
    assert answer.url == machine.get_absolute_url()
    with farm.scope():
        defect = Defect.objects.get()
    assert (defect.machine, defect.severity, defect.found_at) == (machine, "note", "field")
    assert (
        "This field is required"
        in farm.client("technician").post(path, {"severity": "note"}).content.decode()
    )


def test_tag_out_and_clearing_name_who_and_why(farm):
    machine = unit(farm)
    path = reverse("tag-out", args=[machine.pk])
    assert farm.client("counter").post(path, {"reason": "Seat belt torn"}).status_code == 302
    with farm.scope():
        placed = TagOut.objects.get()
    assert (placed.placed_by, placed.reason) == (farm.counter, "Seat belt torn")
    path = reverse("tag-out-clear", args=[placed.pk])
    html = page(farm, "manager", path)
    assert "Why it is safe to use again" in html
    assert "re-test" not in html
    assert farm.client("manager").post(path, {"reason": "Belt changed"}).url == machine.get_absolute_url()
    assert f"Cleared by {farm.manager} on 3 May" in page(farm, "manager", path)
    again = farm.client("owner").post(path, {"reason": "Me too"})
    assert f"{farm.manager} has cleared this tag-out already" in again.content.decode()


def test_after_a_failed_safety_check_clearing_asks_for_the_re_test(farm):
    machine = unit(farm)
    placed = tag_out(machine, farm.technician)
    with farm.scope():
        check = CheckFactory(
            organisation=farm.organisation, task__version__program__organisation=farm.organisation
        )
        SafetyFailure.objects.create(
            organisation=farm.organisation,
            machine=machine,
            order=WorkOrderFactory(machine=machine),
            check_made=check,
            label="Brake pedal travel",
            kind="measure",
            safety=True,
            unit="mm",
            lower=20,
            upper=30,
            found_value=41,
            found_unit="mm",
            found_passes=False,
        )
    html = page(farm, "manager", reverse("tag-out-clear", args=[placed.pk]))
    assert "Re-test: Brake pedal travel" in html
    assert "It passes at: 20 to 30 mm" in html
    assert "Found 41 mm; allowed 20 to 30 mm" in html

    path, manager = reverse("tag-out-clear", args=[placed.pk]), farm.client("manager")
    with farm.scope():
        asked = f"re_test-{SafetyFailure.objects.get().pk}"

    def clear(value, read_in):
        sent = {asked: value, f"{asked}_unit": read_in, "reason": "Rod adjusted"}
        return manager.post(path, sent)

    # NIST SP 811: 1 in = 25.4 mm exactly, so 30 mm lies between 1.181102 and 1.181103 in
    for value, read_in, sentence in (
        ("", "mm", "Make this check again and enter what you found."),
        ("30.000001", "mm", "This still fails (30.000001 mm): it stays tagged out."),
        ("1.181103", "in", "This still fails (1.181103 in): it stays tagged out."),
        ("thirty", "mm", "is not a number"),
    ):
        answer = clear(value, read_in)
        assert answer.status_code == 422
        assert sentence in answer.context["form"].errors[asked][0]
        assert "Rod adjusted" in answer.content.decode(), "nothing typed is lost"
    with farm.scope():
        assert TagOut.objects.open().get() == placed

    assert clear("1.181102", "in").url == machine.get_absolute_url()
    with farm.scope():
        placed.refresh_from_db()
        assert placed.clear_reason == "Re-test passed: Brake pedal travel: 1.181102 in. Rod adjusted"
        assert placed.cleared_by == farm.manager
        assert retest.failing(machine) == []


def test_a_failed_function_test_is_made_again_in_words(farm):
    machine = unit(farm)
    placed = tag_out(machine, farm.technician)
    with farm.scope():
        check = CheckFactory(
            organisation=farm.organisation,
            task__version__program__organisation=farm.organisation,
            kind="function",
            unit="",
            lower=None,
            upper=None,
        )
        failed = SafetyFailure.objects.create(
            organisation=farm.organisation,
            machine=machine,
            order=WorkOrderFactory(machine=machine),
            check_made=check,
            label="Brake holds",
            kind="function",
            safety=True,
            found_word="fails",
            found_passes=False,
        )
    path, asked = reverse("tag-out-clear", args=[placed.pk]), f"re_test-{failed.pk}"
    answer = farm.client("owner").post(path, {asked: "fails", "reason": "Linings changed"})
    assert answer.context["form"].errors == {asked: ["This still fails (fails): it stays tagged out."]}
    assert farm.client("technician").post(path, {asked: "passes", "reason": "x"}).status_code == 403
    assert farm.client("owner").post(path, {asked: "passes"}).context["form"].errors.keys() == {"reason"}
    assert farm.client("owner").post(path, {asked: "passes", "reason": "Linings changed"}).status_code == 302
    with farm.scope():
        placed.refresh_from_db()
        assert placed.clear_reason == "Re-test passed: Brake holds: passes. Linings changed"


# ------------------------------------------------------------------ who may, odd addresses, queries


ROLES = ("owner", "manager", "technician", "counter")
TABLE = [
    ("gate", (200, 200, 403, 200)),
    ("gate-out", (200, 200, 403, 200)),
    ("gate-in", (200, 200, 403, 200)),
    ("defect-new", (200, 200, 200, 200)),
    ("tag-out", (200, 200, 200, 200)),
    ("tag-out-clear", (200, 200, 403, 403)),
]


@pytest.mark.parametrize(("name", "role", "status"), [
    (name, role, status) for name, row in TABLE for role, status in zip(ROLES, row, strict=True)
])  # fmt: skip
def test_who_may(farm, name, role, status):
    machine = unit(farm)
    pk = tag_out(machine, farm.owner).pk if name == "tag-out-clear" else machine.pk
    path = reverse(name, args=[] if name == "gate" else [pk])
    assert farm.client(role).get(path).status_code == status
    assert farm.client(role).post(path, {}).status_code == status


@pytest.mark.parametrize("name", ["gate-out", "gate-in", "defect-new", "tag-out", "tag-out-clear"])
def test_strangers_find_nothing(farm, stranger, name):
    machine = unit(farm)
    pk = tag_out(machine, farm.owner).pk if name == "tag-out-clear" else machine.pk
    browser = stranger.client("owner")
    assert browser.get(reverse(name, args=[pk])).status_code == 404
    data = {"hirer": "x", "reason": "x", "text": "x", "severity": "note", **faults()}
    assert browser.post(reverse(name, args=[pk]), data).status_code == 404
    assert "T-07" not in page(stranger)
    with farm.scope():
        assert TagOut.objects.open().count() == (name == "tag-out-clear")
        assert not Hire.objects.exists()
        assert not Defect.objects.exists()


@pytest.mark.parametrize("back", ["x", "²", "999999", ""])
def test_odd_addresses_still_show_the_gate(farm, back):
    assert "can it go out again today" not in page(farm, back=back)


def test_same_queries_for_10_and_200_machines(farm):
    def cost(machines):
        task = DutyFactory(machine__organisation=farm.organisation).task
        for n in range(machines):
            machine = MachineFactory(
                organisation=farm.organisation,
                yard=farm.yard,
                type=task.version.program.machine_type,
                for_hire=True,
            )
            DutyFactory(machine=machine, task=task, mark_hours=Decimal(n % 2 * 100))
            if n % 3 == 0:
                hire(machine)
            if n % 5 == 0:
                tag_out(machine, farm.manager)
        browser = farm.client("owner")
        with CaptureQueriesContext(connection) as queries:
            assert browser.get("/gate/").status_code == 200
        with farm.scope():
            assert Machine.objects.filter(for_hire=True).count() >= machines
        return len(queries)

    assert cost(10) == cost(190)
