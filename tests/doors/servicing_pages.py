"""The pages of servicing."""

from typing import Any

from tests.doors.door import ANYBODY_SIGNED_IN as ANY
from tests.doors.door import MACHINE, Door
from tests.doors.rows import Rows

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


def revision(name: str, **more: Any) -> Any:
    """A body that names the order's revision."""
    return lambda rows: {"revision": getattr(rows, name).revision, **more}


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


def amending(rows: Rows) -> dict[str, Any]:
    line, check = rows.closed_line.pk, rows.check.pk
    return {
        "revision": rows.closed.revision,
        "reason": "Typed it wrong.",
        f"lines-{line}-outcome": "done",
        f"lines-{line}-checks-{check}-found": "8.5",
        f"lines-{line}-checks-{check}-found_unit": "mm",
        "further-0-part": rows.part.pk,
        "further-0-quantity": "1",
        "helper-0-technician": rows.technician.pk,
        "helper-0-minutes": "10",
        "hours": "1004",
    }


CLOSING_NAMES: dict[tuple[str | int, ...], str] = {
    **{(f"further-{n}-part",): "part" for n in range(3)},
    **{(f"helper-{n}-technician",): "technician" for n in range(2)},
}

SERVICING = [
    Door("today", get=ANY),
    Door("first-day-wave-off", post="manage_fleet", words={"step": "yards"}),
    Door("first-day-take-up", post="manage_fleet", words={"step": "hours"}),
    Door("first-day-close", get="manage_fleet", post="manage_fleet", acts=False),  # it is closed already
    Door("first-day-open", post="manage_fleet"),
    Door("words", get=ANY),
    Door("ahead", get=ANY),
    Door("machines", get=ANY),
    Door("machine", get=ANY, keys=MACHINE),
    Door("machine-drift", get=ANY, keys=MACHINE),
    Door("last-done", get="manage_fleet", post="manage_fleet", acts=False),  # test_page.py sends its cells
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
    Door("program-sent", get="manage_fleet", post="manage_fleet", keys={"pk": "sent_program"}),
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
    Door(
        "program-replaced",
        post="manage_fleet",
        keys={"pk": "draft"},
        body=lambda rows: {"manual": "Operator's manual 4711, 3rd edition", "sure": "on"},
    ),
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
    Door("faults", get=ANY),
    Door("fault-report", get=ANY, asks={"machine": "machine"}),
    Door(
        "fault-judge",
        get="plan_orders",
        post="plan_orders",
        keys={"pk": "fault"},
        body=lambda rows: {"severity": "note", "reason": "Only dust."},
    ),
    Door("fault-order", post="plan_orders", keys={"pk": "fault"}),
    Door(
        "fault-new",
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
            "faults": [rows.fault.pk],
            "technician": rows.technician.pk,
        },
        names_in_body={("duties", 0): "duty", ("faults", 0): "fault", ("technician",): "technician"},
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
    Door(
        "order-amend",
        get="work_orders",
        post="work_orders",
        keys={"pk": "closed"},
        body=amending,
        names_in_body=CLOSING_NAMES,
    ),
    Door("order-start", post="work_orders", keys={"pk": "planned"}, body=revision("planned")),
    Door("order-resume", post="work_orders", keys={"pk": "on_hold"}, body=revision("on_hold")),
    Door(
        "order-hold", post="work_orders", keys={"pk": "started"}, body=revision("started", reason="No oil.")
    ),
    Door(
        "order-cancel", post="plan_orders", keys={"pk": "planned"}, body=revision("planned", reason="Sold.")
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
    Door(
        "missing-figures",
        get="manage_fleet",
        post="manage_fleet",
        body=lambda rows: {f"prices-{rows.machine.pk}": "48500"},
    ),
    Door("ledger", get="see_ledger"),
    Door("ledger-pdf", get="see_ledger"),
    Door("ledger-track", get="see_ledger"),
]
