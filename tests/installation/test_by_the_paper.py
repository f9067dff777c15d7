"""A real installation, typed from config/INSTALL.md word by word, from an empty database to a mail."""

import json
import os
import re
import signal
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.installation.paper import block, blocks
from tests.installation.proxy import HOST, Caller, options, path_of
from tests.services.installation import free_port, wait_for

pytestmark = pytest.mark.installation
PASSWORD = "seven-otters-on-a-weir"
OPERATOR = [
    ("Username", "operator"),
    ("Email", "operator@example.org"),
    ("Password:", PASSWORD),
    ("Password (again):", PASSWORD),
]
EARLY = {"web": "collectstatic", "worker": "migrate", "beat": "migrate"}
NOON_ZONES = ("Etc/UTC", "UTC", "Europe/Dublin", "Asia/Tokyo")


@contextmanager
def running(terminal, commands):
    """The processes of these lines of the paper; each leads a group, which ends with it."""
    started = {}
    try:
        for name, command in commands.items():
            started[name] = terminal.start(command, name)
        yield started
    finally:
        for process in started.values():
            process.terminate()  # the first of each group alone: it ends its own as it sees fit
        for process in started.values():
            try:
                process.wait(120)  # a worker first ends the task it is at
            finally:
                if process.poll() is None:
                    os.killpg(process.pid, signal.SIGKILL)
                    process.wait()


def processes(port):
    """The paper's three lines by what they start, on a free port."""
    (lines,) = (each.strip().splitlines() for each in blocks("sh processes"))
    web, worker, beat = lines
    assert "127.0.0.1:8000" in web
    return {"web": web.replace("127.0.0.1:8000", f"127.0.0.1:{port}"), "worker": worker, "beat": beat}


def said(terminal):
    return lambda: "\n".join(
        f"--- {log.name}\n{log.read_text()[-4000:]}" for log in terminal.folder.glob("*.log")
    )


def answers(caller, path):
    def ask():
        try:
            return caller.get(path)[0] == 200
        except OSError:
            return False

    return ask


def test_from_an_empty_database_to_a_mail(terminal, letters):
    port = free_port()
    lines = processes(port)
    terminal.type(block("hourmark.env <<"), settings=False)

    assert (terminal.folder / "hourmark.env").stat().st_mode & 0o777 == 0o600

    # one step too early: each ends, and says what to run
    for name, line in lines.items():
        early = terminal.start(line, f"early-{name}")
        assert early.wait(60) != 0, name
        told = (terminal.folder / f"early-{name}.log").read_text()
        (line,) = (each for each in told.splitlines() if each.startswith("hourmark: "))
        assert line.endswith(f"python manage.py {EARLY[name]} --noinput")
        assert "Traceback" not in told

    terminal.type(block("migrate"))
    terminal.answer(block("createsuperuser"), OPERATOR)
    welcome = terminal.type(block("start_organisation")).split()[-1]
    assert welcome.startswith(f"https://{HOST}/")
    terminal.type(block("load_program"))

    with running(terminal, {"web": lines["web"]}):
        owner, operator = Caller(port), Caller(port)
        wait_for(answers(owner, "/health/web"), seconds=60, otherwise=said(terminal))
        assert owner.get("/sign-in/", **{"X-Forwarded-Proto": "http"})[0] == 301
        status, page = owner.get("/sign-in/")
        assert status == 200
        for file in re.findall(r'(?:href|src)="(/static/[^"]+)"', page):
            assert owner.get(file)[0] == 200, file

        status, to = operator.post_form(
            "/admin/login/?next=/admin/", {"username": "operator", "password": PASSWORD}
        )
        assert (status, to) == (302, "/admin/")
        assert operator.get("/admin/")[0] == 200

        status, to = owner.post_form(path_of(welcome), {"password": PASSWORD, "again": PASSWORD})
        assert status == 302, to
        settle(owner, digest_hour=23)
        enter_machine(owner)
        token = re.search(r"[\w-]{40,}", terminal.type(block("tokens alder-farm")))[0]
        assert owner.get("/health")[1].count("null") == 3

        with running(terminal, {name: lines[name] for name in ("worker", "beat")}):
            wait_for(
                lambda: json.loads(owner.get("/health")[1])["status"] == "ok",
                seconds=60,
                otherwise=said(terminal),
            )
            before = wait_for(lambda: duties(owner), seconds=60, otherwise=said(terminal))
            assert not any(duty["overdue"] for duty in before)

            status, receipt = Caller(port, token=token).post_json(
                "/api/v1/readings",
                {
                    "machine": "T-07",
                    "taken_at": datetime.now(UTC).isoformat(),
                    "meter": 260,
                    "client_id": "a1",
                },
            )
            assert status == 200, receipt
            assert "counted" in json.dumps(receipt)
            after = wait_for(
                lambda: [duty for duty in duties(owner) if duty["likely"] and duty["overdue"]],
                seconds=60,
                otherwise=said(terminal),
            )
            assert {duty["machine"]["tag"] for duty in after} == {"T-07"}
            assert letters.kept == []

            settle(owner, digest_hour=0)
            (letter,) = wait_for(lambda: letters.kept, seconds=180, otherwise=said(terminal))
            assert "To: owner@example.org" in letter
            assert after[0]["task"]["title"] in letter
            assert f"https://{HOST}/" in letter
    assert "Traceback" not in said(terminal)()


def settle(owner, *, digest_hour):
    """Fill in the organisation's settings; its zone is one where it is the middle of the day."""
    zones = options(owner.get("/settings/")[1], "zone").values()
    now = datetime.now(UTC)
    zone = next(
        each for each in NOON_ZONES if each in zones and 2 <= now.astimezone(ZoneInfo(each)).hour <= 20
    )
    fields = {
        "name": "Alder Farm",
        "currency": "EUR",
        "zone": zone,
        "units": "metric",
        "digest_hour": digest_hour,
        "notice_days": 14,
        "hire_margin_days": 3,
    }
    status, to = owner.post_form("/settings/", fields)
    assert status == 302, to


def enter_machine(owner):
    page = owner.get("/machines/new/")[1]
    (kind,) = (value for text, value in options(page, "type").items() if "HX 25" in text)
    (yard,) = (value for value in options(page, "yard").values() if value)
    fields = {
        "tag": "T-07",
        "type": kind,
        "yard": yard,
        "in_service_on": (datetime.now(UTC) - timedelta(days=90)).date().isoformat(),
        "hours_at_start": "0",
        "condition": "normal",
    }
    status, to = owner.post_form("/machines/new/", fields)
    assert status == 302, to


def duties(owner):
    status, body = owner.get("/api/v1/tasks-due")
    assert status == 200, body
    return json.loads(body)["results"]
