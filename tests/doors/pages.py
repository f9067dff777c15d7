"""Every page. A new one is refused by the tests until it stands here."""

from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from tests.doors.door import ANYBODY_SIGNED_IN as ANY
from tests.doors.door import Door
from tests.doors.rows import PASSWORD, Rows

MACHINE = {"pk": "machine"}
SETS = ("cautions", "checks", "tools", "supplies")
TABLE = {
    "do": "save",
    "anchor": "marks",
    "rows": "2",
    "columns": "2",
    "cell-1-1": "Task",
    "cell-1-2": "100 h",
    "cell-2-1": "Grease",
    "cell-2-2": "x",
}
NEW_PASSWORD = "seven odd lanterns"


def revision(name: str, **more: Any) -> Any:
    """A body that names the order's revision."""
    return lambda rows: {"revision": getattr(rows, name).revision, **more}


def machine_facts(rows: Rows) -> dict[str, Any]:
    return {
        "tag": "N-77",
        "type": rows.kind.pk,
        "yard": rows.yard.pk,
        "in_service_on": "2026-05-01",
        "hours_at_start": "0",
        "condition": "normal",
        "fitments": [rows.fitment.pk],
    }


def attachment_facts(rows: Rows) -> dict[str, Any]:
    return {
        "tag": "A-77",
        "type": rows.hung_kind.pk,
        "yard": rows.yard.pk,
        "in_service_on": "2026-05-01",
        "hours_before": "0",
    }


def booking_facts(rows: Rows) -> dict[str, Any]:
    return {
        "kind": "hire",
        "what": "Gala Ros",
        "first_on": "2026-08-03",
        "last_on": "2026-08-07",
        "hours_a_day": "6",
    }


def holiday_facts(rows: Rows) -> dict[str, Any]:
    return {"name": "Harvest home", "first_on": "2026-09-21", "yard": rows.yard.pk}


def source_facts(rows: Rows) -> dict[str, Any]:
    return {
        "name": "Feed of the maker",
        "url": "https://feed.example/Fleet/1",
        "login": "basic",
        "username": "alder",
        "secret": "not-so-secret",
        "every_minutes": "60",
        "active": "on",
    }


def part_facts(rows: Rows) -> dict[str, Any]:
    return {
        "number": rows.part.number,
        "name": "Long filter",
        "grade": "",
        "unit": "pc",
        "unit_cost": "3.50",
        "equivalents": [rows.part.pk],
    }


def closing(rows: Rows) -> dict[str, Any]:
    line, check = rows.line.pk, rows.check.pk
    return {
        "revision": rows.started.revision,
        f"lines-{line}-outcome": "done",
        f"lines-{line}-checks-{check}-found": "8",
        f"lines-{line}-checks-{check}-found_unit": "mm",
        f"labour-{rows.technician.pk}-minutes": "30",
        "further-0-part": rows.part.pk,
        "further-0-quantity": "1",
        "helper-0-technician": rows.technician.pk,
        "helper-0-minutes": "10",
        "hours": "1004",
    }


CLOSING_NAMES = {
    **{(f"further-{n}-part",): "part" for n in range(3)},
    **{(f"helper-{n}-technician",): "technician" for n in range(2)},
}

FLEET = [
    Door(
        "reading-new",
        get=ANY,
        post=ANY,
        asks={"machine": "machine"},
        body=lambda rows: {"machine": rows.machine.pk, "shows": "1010"},
        names_in_body={("machine",): "machine"},
    ),
    Door("held-readings", get="decide_readings"),
    Door("reading", get=ANY, keys={"pk": "reading"}),
    Door(
        "held-reading-decide",
        get="decide_readings",
        post="decide_readings",
        keys={"pk": "held"},
        body=lambda rows: {"decision": "strike", "note": "A slip of the pen."},
    ),
    Door(
        "reading-files",
        get="manage_fleet",
        post="manage_fleet",
        body=lambda rows: {"file": SimpleUploadedFile("more.csv", b"machine,date,hours\nX-1,2026-05-01,7\n")},
    ),
    Door(
        "reading-file",
        get="manage_fleet",
        post="manage_fleet",
        keys={"pk": "file"},
        body=lambda rows: {
            "do": "take",
            "machine": "0",
            "taken_at": "1",
            "hours": "2",
            "heading": "on",
            "order": "dmy",
            "decimal": ".",
        },
    ),
    Door("reading-file-rejects", get="manage_fleet", keys={"pk": "file"}),
    Door("reading-swap", post="decide_readings", keys={"pk": "mine", "other": "theirs"}),
    Door("reading-take-back", post="decide_readings", keys={"pk": "decided"}),
    Door(
        "machine-new",
        get="manage_fleet",
        post="manage_fleet",
        body=machine_facts,
        names_in_body={("type",): "kind", ("yard",): "yard", ("fitments", 0): "fitment"},
    ),
    Door(
        "machine-edit",
        get="manage_fleet",
        post="manage_fleet",
        keys=MACHINE,
        body=machine_facts,
        names_in_body={("type",): "kind", ("yard",): "yard", ("fitments", 0): "fitment"},
    ),
    Door("machine-retire", post="manage_fleet", keys={"pk": "idle"}, body=lambda rows: {"on": "2026-05-04"}),
    Door("machine-bring-back", post="manage_fleet", keys={"pk": "retired"}),
    Door(
        "meter-replace",
        get="manage_fleet",
        post="manage_fleet",
        keys={"pk": "idle"},
        body=lambda rows: {"happened": "replaced", "old_shows": "1000", "new_shows": "0"},
    ),
    Door("booking-new", get="gate", post="gate", keys=MACHINE, body=booking_facts),
    Door("booking", get="gate", post="gate", keys={"pk": "booking"}, body=booking_facts),
    Door("booking-withdraw", post="gate", keys={"pk": "booking"}),
    Door(
        "type-new",
        get="manage_fleet",
        post="manage_fleet",
        body=lambda rows: {
            "maker": "Orrin",
            "model": "K 4",
            "category": "tractor",
            "fitments": [rows.fitment.pk],
        },
        names_in_body={("fitments", 0): "fitment"},
    ),
    Door("attachments", get=ANY),
    Door(
        "attachment-new",
        get="manage_fleet",
        post="manage_fleet",
        body=attachment_facts,
        names_in_body={("type",): "hung_kind", ("yard",): "yard"},
    ),
    Door(
        "attachment-mount",
        get=ANY,
        post=ANY,
        keys={"pk": "loose"},
        body=lambda rows: {"machine": rows.idle.pk},
        names_in_body={("machine",): "idle"},
    ),
    Door("attachment-remove", get=ANY, post=ANY, keys={"pk": "hung"}),
    Door("people", get="manage_people"),
    Door(
        "person-new",
        get="manage_people",
        post="manage_people",
        body=lambda rows: {"name": "Ada Pell", "email": "ada@example.org", "role": "technician"},
    ),
    Door(
        "person",
        get="manage_people",
        post="manage_people",
        keys={"pk": "member"},
        body=lambda rows: {"role": "manager", "active": "on", "mail": "on"},
    ),
    Door("person-link", post="manage_people", keys={"pk": "member"}, acts=False),
    Door("account", get=ANY),
    Door(
        "account-password",
        post=ANY,
        body=lambda rows: {
            "old_password": PASSWORD,
            "new_password1": NEW_PASSWORD,
            "new_password2": NEW_PASSWORD,
        },
    ),
    Door("account-mail", post=ANY),
    Door(
        "account-organisation",
        post=ANY,
        body=lambda rows: {"member": rows.house.owner.pk},
        names_in_body={("member",): "member"},
        unseen=True,
        acts=False,
    ),
    Door("telematics", get="manage_fleet"),
    Door("telematics-new", get="manage_fleet", post="manage_fleet", body=source_facts),
    Door("telematics-source", get="manage_fleet", keys={"pk": "source"}),
    Door(
        "telematics-edit",
        get="manage_fleet",
        post="manage_fleet",
        keys={"pk": "source"},
        body=source_facts,
    ),
    Door("telematics-read", post="manage_fleet", keys={"pk": "source"}),
    Door(
        "telematics-unit",
        get="manage_fleet",
        post="manage_fleet",
        keys={"pk": "reported"},
        body=lambda rows: {"decision": "tie", "machine": rows.idle.pk},
        names_in_body={("machine",): "idle"},
    ),
    Door("yards", get="manage_fleet"),
    Door("yard-new", get="manage_fleet", post="manage_fleet", body=lambda rows: {"name": "Far barn"}),
    Door(
        "yard",
        get="manage_fleet",
        post="manage_fleet",
        keys={"pk": "yard"},
        body=lambda rows: {"name": "Near barn"},
    ),
    Door("holidays", get="manage_fleet"),
    Door(
        "holiday-new",
        get="manage_fleet",
        post="manage_fleet",
        body=holiday_facts,
        names_in_body={("yard",): "yard"},
    ),
    Door(
        "holiday",
        get="manage_fleet",
        post="manage_fleet",
        keys={"pk": "holiday"},
        body=holiday_facts,
        names_in_body={("yard",): "yard"},
    ),
    Door("holiday-strike", post="manage_fleet", keys={"pk": "holiday"}),
    Door(
        "organisation-settings",
        get="manage_people",
        post="manage_people",
        body=lambda rows: {
            "name": "Another name",
            "currency": "EUR",
            "zone": "Europe/Madrid",
            "units": "metric",
            "digest_hour": "6",
            "notice_days": "14",
            "hire_margin_days": "3",
        },
    ),
    Door("tokens", get=ANY),
    Door(
        "token-new",
        get=ANY,
        post=ANY,
        body=lambda rows: {"name": "Another box", "stands_for": "device", "yards": [rows.yard.pk]},
        names_in_body={("yards", 0): "yard"},
    ),
    Door("token-rotate", get="manage_fleet", post="manage_fleet", keys={"pk": "token"}, unseen=True),
    Door("token-revoke", post="manage_fleet", keys={"pk": "token"}, unseen=True),
    Door("media", get=ANY, keys={"path": "photo"}),
]

SERVICING = [
    Door("today", get=ANY),
    Door("ahead", get=ANY),
    Door("machines", get=ANY),
    Door("machine", get=ANY, keys=MACHINE),
    Door("machine-drift", get=ANY, keys=MACHINE),
    Door("machine-stickers", get=ANY),
    Door("machine-stickers-pdf", get=ANY),
    Door("machine-sticker", get=ANY, keys=MACHINE),
    Door("machine-sticker-renew", post="manage_fleet", keys=MACHINE),
    Door("phone", get=ANY),
    Door(
        "phone-machine",
        get=ANY,
        post=ANY,
        keys={"code": "code"},
        body=lambda rows: {"shows": "1010", "client_id": "a1"},
    ),
    Door("programs", get=ANY),
    Door("program", get=ANY, keys={"pk": "program"}),
    Door(
        "program-new",
        get="manage_fleet",
        post="manage_fleet",
        body=lambda rows: {"machine_type": rows.bare_kind.pk, "title": "T", "source": "M", **TABLE},
        names_in_body={("machine_type",): "bare_kind"},
    ),
    Door("program-load", get="manage_fleet", post="manage_fleet", acts=False),  # its body is a file
    Door("program-draft-begin", post="manage_fleet", keys={"pk": "program"}),
    Door("program-draft", get="manage_fleet", keys={"pk": "draft"}),
    Door(
        "program-table",
        get="manage_fleet",
        post="manage_fleet",
        keys={"pk": "draft"},
        body=lambda rows: TABLE,
    ),
    Door(
        "program-about",
        get="manage_fleet",
        post="manage_fleet",
        keys={"pk": "draft"},
        body=lambda rows: {"title": "T", "source": "M", "round": "front"},
    ),
    Door("program-apply", get="manage_fleet", post="manage_fleet", keys={"pk": "draft"}),
    Door("program-discard", post="manage_fleet", keys={"pk": "draft"}),
    Door(
        "program-task",
        get="manage_fleet",
        post="manage_fleet",
        keys={"pk": "draft_task"},
        body=lambda rows: {
            "title": "Grease",
            "skill": "operator",
            "minutes": "5",
            "wait_minutes": "0",
            "waits_after": "0",
            "engine": "any",
            "interval-normal-every_hours": "50",
            "interval-normal-anchor": "marks",
            **{f"{name}-TOTAL_FORMS": "0" for name in SETS},
            **{f"{name}-INITIAL_FORMS": "0" for name in SETS},
        },
    ),
    Door("program-task-remove", post="manage_fleet", keys={"pk": "draft_task"}),
    Door(
        "machine-depart",
        get="manage_fleet",
        post="manage_fleet",
        keys={"pk": "bound"},
        body=lambda rows: {"task": rows.task.pk, "how": "left_out", "reason": "Sealed."},
        names_in_body={("task",): "task"},
    ),
    Door("machine-depart-end", post="manage_fleet", keys={"pk": "override"}),
    Door("gate", get="gate"),
    Door(
        "gate-out", get="gate", post="gate", keys={"pk": "unit"}, body=lambda rows: {"hirer": "Hill Paving"}
    ),
    Door(
        "gate-in",
        get="gate",
        post="gate",
        keys={"pk": "hired"},
        body=lambda rows: {"shows": "1020", "faults-TOTAL_FORMS": "0", "faults-INITIAL_FORMS": "0"},
    ),
    Door("defects", get=ANY),
    Door("defect-report", get=ANY, asks={"machine": "machine"}),
    Door("defect-order", post="plan_orders", keys={"pk": "defect"}),
    Door(
        "defect-new",
        get=ANY,
        post=ANY,
        keys=MACHINE,
        body=lambda rows: {"text": "Hose weeps", "severity": "soon"},
    ),
    Door("tag-out", get=ANY, post=ANY, keys=MACHINE, body=lambda rows: {"reason": "Brake does not hold."}),
    Door(
        "tag-out-clear",
        get="clear_tag_outs",
        post="clear_tag_outs",
        keys={"pk": "tag_out"},
        body=lambda rows: {"reason": "Adjusted; it holds on the ramp."},
    ),
    Door("bench", get="work_orders"),
    Door("orders", get=ANY),
    Door(
        "order-new",
        get="plan_orders",
        post="plan_orders",
        asks={"machine": "machine"},
        body=lambda rows: {
            "duties": [rows.duty.pk],
            "defects": [rows.defect.pk],
            "technician": rows.technician.pk,
        },
        names_in_body={("duties", 0): "duty", ("defects", 0): "defect", ("technician",): "technician"},
    ),
    Door("order", get=ANY, keys={"pk": "started"}),
    Door("order-handover", get=ANY, keys={"pk": "started"}),
    Door("order-sheet", get=ANY, keys={"pk": "started"}),
    Door("order-sheet-pdf", get=ANY, keys={"pk": "started"}),
    Door(
        "order-steps",
        get="work_orders",
        post="work_orders",
        keys={"pk": "started"},
        body=lambda rows: {**closing(rows), "save": "1"},
        names_in_body=CLOSING_NAMES,
    ),
    Door(
        "order-close",
        get="work_orders",
        post="work_orders",
        keys={"pk": "started"},
        body=closing,
        names_in_body=CLOSING_NAMES,
    ),
    Door("order-start", post="work_orders", keys={"pk": "planned"}, body=revision("planned")),
    Door("order-resume", post="work_orders", keys={"pk": "parked"}, body=revision("parked")),
    Door(
        "order-park", post="work_orders", keys={"pk": "started"}, body=revision("started", reason="No oil.")
    ),
    Door(
        "order-withdraw", post="plan_orders", keys={"pk": "planned"}, body=revision("planned", reason="Sold.")
    ),
    Door(
        "order-assign",
        post="plan_orders",
        keys={"pk": "planned"},
        body=lambda rows: {
            "revision": rows.planned.revision,
            "technician": rows.technician.pk,
            "planned_for": "2026-05-09",
        },
        names_in_body={("technician",): "technician"},
    ),
    Door("parts", get="work_orders"),
    Door("part-purchase", get="work_orders"),
    Door(
        "part-new",
        get="plan_orders",
        post="plan_orders",
        body=lambda rows: {**part_facts(rows), "number": "N-77"},
        names_in_body={("equivalents", 0): "part"},
    ),
    Door(
        "part",
        get="work_orders",
        post="plan_orders",
        keys={"pk": "part"},
        body=lambda rows: {**part_facts(rows), "equivalents": [rows.spare_part.pk]},
        names_in_body={("equivalents", 0): "spare_part"},
    ),
    Door(
        "part-count",
        post="plan_orders",
        keys={"pk": "part"},
        body=lambda rows: {"yard": rows.yard.pk, "quantity": "4", "reorder_point": "1"},
        names_in_body={("yard",): "yard"},
    ),
    Door("technicians", get="plan_orders"),
    Door(
        "technician",
        get="plan_orders",
        post="plan_orders",
        keys={"pk": "technician"},
        body=lambda rows: {"hourly_rate": "55"},
    ),
    Door("ledger", get="see_ledger"),
    Door("ledger-track", get="see_ledger"),
]

NOTIFICATIONS = [
    Door("messages", get=ANY),
    Door("message", get="manage_people", keys={"pk": "message"}, unseen=True),
    Door("message-again", post="manage_people", keys={"pk": "message"}),
]

PAGES = [*FLEET, *SERVICING, *NOTIFICATIONS]

# Open to everybody, and with nothing of any organisation on them: name, how it is looked at, what it answers.
PUBLIC = {
    "health": ("get", {200}),
    "login": ("get", {200}),
    "logout": ("post", {302}),
    "api": ("get", {200}),
    "api-schema": ("get", {200}),
    "service-worker": ("get", {200}),
}
# The link itself is the key: kept by tests/fleet/web/test_people.py
KEY_IN_ADDRESS = {"welcome"}
