"""Every address of the API. A new one is refused by the tests until it stands here."""

from dataclasses import replace
from io import BytesIO
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from tests.doors.door import ANYBODY_SIGNED_IN as ANY
from tests.doors.door import Door
from tests.doors.rows import Rows
from tests.doors.servicing_pages import revision


def recorded(rows: Rows) -> dict[str, Any]:
    return {
        "revision": rows.started.revision,
        "lines": [
            {
                "line": rows.line.pk,
                "outcome": "done",
                "checks": [{"check": rows.check.pk, "found": "8"}],
            }
        ],
        "parts": [{"part": rows.part.pk, "quantity": "1"}],
        "labour": [{"technician": rows.technician.pk, "minutes": 30}],
    }


def amended(rows: Rows) -> dict[str, Any]:
    check = {"check": rows.check.pk, "found": "8.5"}
    return {
        **recorded(rows),
        "revision": rows.closed.revision,
        "lines": [{"line": rows.closed_line.pk, "outcome": "done", "checks": [check]}],
        "reason": "Typed it wrong.",
    }


def picture(rows: Rows) -> dict[str, Any]:
    kept = BytesIO()
    Image.new("RGB", (8, 8), "grey").save(kept, "PNG")
    return {"photo": SimpleUploadedFile("filter.png", kept.getvalue(), "image/png")}


RECORDED_NAMES = {
    ("lines", 0, "line"): "line",
    ("lines", 0, "checks", 0, "check"): "check",
    ("parts", 0, "part"): "part",
    ("labour", 0, "technician"): "technician",
}

API = [
    Door(
        "api-readings",
        get=ANY,
        post=ANY,
        body=lambda rows: {
            "readings": [
                {"machine": rows.machine.pk, "taken_at": "2026-05-04T09:00:00Z", "meter": "1010"},
            ]
        },
        names_in_body={("readings", 0, "machine"): "machine"},
    ),
    Door("api-reading", get=ANY, keys={"pk": "reading"}),
    Door("api-reading-count", post="decide_readings", keys={"pk": "held"}),
    Door(
        "api-reading-discard",
        post="decide_readings",
        keys={"pk": "held"},
        body=lambda rows: {"note": "A slip of the pen."},
    ),
    Door(
        "api-reading-correct",
        post="decide_readings",
        keys={"pk": "held"},
        body=lambda rows: {"meter": "1024"},
    ),
    Door("api-reading-case", get="decide_readings", keys={"pk": "held"}),
    Door("api-reading-decisions", get=ANY, keys={"pk": "decided"}),
    Door(
        "api-reading-swap",
        post="decide_readings",
        keys={"pk": "mine"},
        body=lambda rows: {"other": rows.theirs.pk},
        names_in_body={("other",): "theirs"},
    ),
    Door("api-reading-undo", post="decide_readings", keys={"pk": "decided"}),
    Door("api-bookings", get=ANY),
    Door(
        "api-hires",
        get=ANY,
        post="gate",
        body=lambda rows: {"machine": rows.unit.pk, "hirer": "Own hirer", "fuel": 90},
        names_in_body={("machine",): "unit"},
    ),
    Door("api-hire", get=ANY, keys={"pk": "hire"}),
    Door("api-hire-back", post="gate", keys={"pk": "hire"}, body=lambda rows: {"fuel": 50}),
    Door("api-hire-additions", post="gate", keys={"pk": "ended"}, body=lambda rows: {"note": "Muddy."}),
    Door("api-yards", get=ANY),
    Door("api-setup", get="manage_fleet"),
    Door(
        "api-machine-types",
        get=ANY,
        post="manage_fleet",
        body=lambda rows: {"maker": "Sollner", "model": "S 20", "category": "generator"},
    ),
    Door(
        "api-machines",
        get=ANY,
        post="manage_fleet",
        body=lambda rows: {
            "tag": "NEW-1",
            "type": rows.kind.pk,
            "yard": rows.yard.pk,
            "in_service_on": "2026-05-01",
        },
        names_in_body={("type",): "kind", ("yard",): "yard"},
    ),
    Door(
        "api-machine",
        get=ANY,
        patch="manage_fleet",
        keys={"pk": "machine"},
        body=lambda rows: {"note": "Runs hot.", "type": rows.kind.pk, "yard": rows.yard.pk},
        names_in_body={("type",): "kind", ("yard",): "yard"},
    ),
    Door(
        "api-machine-retire",
        post="manage_fleet",
        keys={"pk": "idle"},
        body=lambda rows: {"on": "2026-05-04"},
    ),
    Door("api-machine-bring-back", post="manage_fleet", keys={"pk": "retired"}),
    Door("api-technicians", get=ANY),
    Door("api-parts", get=ANY),
    Door("api-part", get=ANY, keys={"pk": "part"}),
    Door(
        "api-faults",
        get=ANY,
        post=ANY,
        body=lambda rows: {"machine": rows.machine.pk, "text": "It leaks.", "severity": "soon"},
        names_in_body={("machine",): "machine"},
    ),
    Door("api-fault", get=ANY, keys={"pk": "fault"}),
    Door(
        "api-fault-judge",
        post="plan_orders",
        keys={"pk": "fault"},
        body=lambda rows: {"severity": "note", "reason": "Only dust."},
    ),
    Door(
        "api-machine-meters",
        get=ANY,
        post="manage_fleet",
        keys={"pk": "idle"},
        body=lambda rows: {"at": "2026-05-04T09:00:00Z", "old_meter": "1000", "new_meter": "0"},
    ),
    Door("api-telematics-units", get="manage_fleet"),
    Door("api-telematics-unit", get="manage_fleet", keys={"pk": "reported"}),
    Door(
        "api-telematics-unit-tie",
        post="manage_fleet",
        keys={"pk": "reported"},
        body=lambda rows: {"machine": rows.idle.pk},
        names_in_body={("machine",): "idle"},
    ),
    Door("api-telematics-unit-ignore", post="manage_fleet", keys={"pk": "reported"}),
    Door("api-telematics-unit-unlink", post="manage_fleet", keys={"pk": "reported"}),
    Door("api-tasks-due", get=ANY),
    Door("api-task-due", get=ANY, keys={"pk": "duty"}),
    Door(
        "api-last-done",
        get=ANY,
        post="manage_fleet",
        keys={"pk": "bound"},
        body=lambda rows: {"task": rows.task.code, "unknown": True},
    ),
    Door("api-phone", get=ANY),
    Door(
        "api-phone-entries",
        post=ANY,
        body=lambda rows: {
            "member": rows.house.owner.pk,
            "machine": rows.machine.pk,
            "read_seconds_ago": 60,
            "meter": "1010",
            "client_id": "a1",
        },
        names_in_body={("machine",): "machine"},
    ),
    Door("api-phone-photos", post=ANY, keys={"pk": "reading"}, body=picture, multipart=True),
    Door("api-programs", get=ANY),
    Door("api-program", get=ANY, keys={"pk": "program"}),
    Door(
        "api-orders",
        get=ANY,
        post="plan_orders",
        body=lambda rows: {
            "machine": rows.machine.pk,
            "tasks_due": [rows.duty.pk],
            "faults": [rows.fault.pk],
            "technician": rows.technician.pk,
        },
        names_in_body={
            ("machine",): "machine",
            ("tasks_due", 0): "duty",
            ("faults", 0): "fault",
            ("technician",): "technician",
        },
    ),
    Door("api-order", get=ANY, keys={"pk": "started"}),
    Door("api-order-start", post="work_orders", keys={"pk": "planned"}, body=revision("planned")),
    Door(
        "api-order-hold",
        post="work_orders",
        keys={"pk": "started"},
        body=revision("started", reason="No oil."),
    ),
    Door("api-order-resume", post="work_orders", keys={"pk": "on_hold"}, body=revision("on_hold")),
    Door(
        "api-order-cancel",
        post="plan_orders",
        keys={"pk": "planned"},
        body=revision("planned", reason="Sold."),
    ),
    Door(
        "api-order-record",
        post="work_orders",
        keys={"pk": "started"},
        body=recorded,
        names_in_body=RECORDED_NAMES,
    ),
    Door(
        "api-order-close",
        post="work_orders",
        keys={"pk": "started"},
        body=lambda rows: {**recorded(rows), "hours": "1004"},
        names_in_body=RECORDED_NAMES,
    ),
    Door(
        "api-order-amend",
        post="work_orders",
        keys={"pk": "closed"},
        body=amended,
        names_in_body={**RECORDED_NAMES, ("lines", 0, "line"): "closed_line"},
    ),
    Door("api-order-corrections", get=ANY, keys={"pk": "closed"}),
    Door(
        "api-order-photos",
        post="work_orders",
        keys={"pk": "started", "line": "line"},
        body=picture,
        multipart=True,
    ),
]


def formerly(name: str, now: str) -> Door:
    """The door of an address as the version before called it."""
    return replace(next(door for door in API if door.name == now), name=name)


FORMER = [
    formerly("api-reading-strike", "api-reading-discard"),
    formerly("api-reading-take-back", "api-reading-undo"),
    formerly("api-duties", "api-tasks-due"),
    formerly("api-duty", "api-task-due"),
    formerly("api-order-park", "api-order-hold"),
    formerly("api-order-withdraw", "api-order-cancel"),
]
"""Addresses of the version before: they answer for one version, and the document doesn't name them."""
