"""The pages of the fleet."""

from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from fleet.machine_list.answers import key
from tests.doors.door import ANYBODY_SIGNED_IN as ANY
from tests.doors.door import MACHINE, Door
from tests.doors.rows import PASSWORD, Rows

NEW_PASSWORD = "seven odd lanterns"


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


QUARRY = key("Quarry")


def machine_list(rows: Rows) -> dict[str, Any]:
    return {
        "do": "save",
        "columns": "tag,maker,model,since,yard",
        "rows": "1",
        "cell-1-tag": "N-78",
        "cell-1-maker": rows.kind.maker,
        "cell-1-model": rows.kind.model,
        "cell-1-since": "2026-05-01",
        "cell-1-yard": "Quarry",
        f"yard-{QUARRY}": rows.yard.pk,
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
        "silent_days": "7",
        "active": "on",
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
    Door("machine-readings", get=ANY, keys={"pk": "machine"}),
    Door(
        "held-reading-decide",
        get="decide_readings",
        post="decide_readings",
        keys={"pk": "held"},
        body=lambda rows: {"decision": "discard", "note": "A slip of the pen."},
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
    Door("reading-undo", post="decide_readings", keys={"pk": "decided"}),
    Door(
        "machine-new",
        get="manage_fleet",
        post="manage_fleet",
        body=machine_facts,
        names_in_body={("type",): "kind", ("yard",): "yard", ("fitments", 0): "fitment"},
    ),
    Door(
        "machine-list",
        get="manage_fleet",
        post="manage_fleet",
        body=machine_list,
        names_in_body={(f"yard-{QUARRY}",): "yard"},
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
        "ask",
        get=ANY,
        post="plan_orders",
        keys={"pk": "ask"},
        body=lambda rows: {"outcome": "Not before Monday."},
    ),
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
        body=lambda rows: {"name": "Ada Pell", "email": "new@example.org", "role": "technician"},
    ),
    Door(
        "person",
        get="manage_people",
        post="manage_people",
        keys={"pk": "member"},
        body=lambda rows: {"role": "manager", "active": "on", "mail": "on"},
    ),
    Door("refused-sign-ins", get="manage_people"),
    Door("person-let-in", post="manage_people", keys={"pk": "member"}),
    Door("person-link", post="manage_people", keys={"pk": "member"}),
    Door("newcomer-again", post="manage_people", keys={"pk": "newcomer"}),
    Door("newcomer-withdraw", post="manage_people", keys={"pk": "newcomer"}),
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
    Door("account-language", post=ANY, body=lambda rows: {"language": "de"}),
    Door("account-mail", post=ANY),
    Door("look", post=ANY, acts=False),
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
    Door("holiday-remove", post="manage_fleet", keys={"pk": "holiday"}),
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
