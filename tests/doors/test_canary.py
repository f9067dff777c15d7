"""Markup in every text that people typed comes out of every page as text, whoever looks."""

import json
from collections.abc import Iterator

import pytest
import time_machine
from django.db import transaction
from django.utils.html import escape
from pytest_django import DjangoDbBlocker

from fleet.core.roles import RIGHTS
from fleet.models import RejectedRow, TagOut
from servicing.models import Amendment, Caution, CheckResult, RefusedEntries, SafetyFailure, ToolNeed
from servicing.workorders import order_version
from tests.cast import build_house
from tests.doors.addresses import DOORS
from tests.doors.canary import CANARY, ESCAPED, IN_JSON, NOT_TYPED, got_out, plant, typed
from tests.doors.door import read
from tests.doors.rows import NOW, Rows, everything
from tests.doors.snapshot import models
from tests.factories import CheckFactory, LineFactory

pytestmark = [pytest.mark.doors, pytest.mark.security]

PAGES = [door for door in DOORS.values() if not door.is_api]
LOOKED_AT = [door for door in DOORS.values() if door.get is not None]
ESCAPED_WORD = escape(f"{CANARY}0")
NO_ROWS = {"KeptAnswer"}  # nobody types into these, and no page shows them
KINDS = {"text/html", "application/json", "application/pdf", "text/csv", "image/jpeg"}


@pytest.fixture(scope="module")
def infested(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[tuple[Rows, set[str]]]:
    """The farm with a canary in all its texts, and the columns that hold one."""
    with django_db_blocker.unblock(), time_machine.travel(NOW, tick=False), transaction.atomic():
        ours = everything(build_house(name="Alder Farm", slug="alder-farm"))
        with ours.house.scope():
            fail_a_check(ours)
            more_texts(ours)
        planted = plant(ours.house.organisation)
        yield ours, planted
        transaction.set_rollback(True)


@pytest.fixture
def ours(infested: tuple[Rows, set[str]], db: None) -> Rows:
    return infested[0]


def fail_a_check(rows: Rows) -> None:
    """A failed safety check in words on the machine that is tagged out: its clearing asks for a word."""
    words = [{"value": "holds", "passes": True}, {"value": "fails", "passes": False}]
    organisation = rows.house.organisation
    line = LineFactory.create(order__machine=rows.tag_out.machine, order__number=99)
    check = CheckFactory(
        organisation=organisation, task__version__program__organisation=organisation, safety=True
    )
    found = {
        "organisation": organisation,
        "line": line,
        "check_made": check,
        "label": "Parking brake",
        "kind": "function",
        "choices": words,
        "safety": True,
        "found_word": "fails",
        "found_passes": False,
    }
    CheckResult.objects.create(**found)
    SafetyFailure.objects.create(**found, machine=rows.tag_out.machine, order=line.order)


def more_texts(rows: Rows) -> None:
    """Rows of texts that nothing else here has: what a task needs, a row refused, a tag-out that is over."""
    own = {"organisation": rows.house.organisation}
    for task in (rows.task, rows.draft_task):
        Caution.objects.create(**own, task=task, hazard="hot", text="Hot oil.")
        ToolNeed.objects.create(**own, task=task, tool="Spanner", size="17 mm")
    RejectedRow.objects.create(**own, file=rows.file, line=2, reason="No such machine.", cells=["X-1", "4"])
    owner = rows.house.owner
    Amendment.objects.create(
        **own, order=rows.closed, made_by=owner, reason="A slip.", before=order_version.of(rows.closed)
    )
    RefusedEntries.objects.create(
        **own, order=rows.started, member=rows.house.technician, problems=[{"at": "Hours", "why": "None."}]
    )
    type(rows.version).objects.filter(pk=rows.version.pk).update(
        replaced_by=owner, replaced_at=NOW, replaced_from="The maker's manual."
    )
    ask = type(rows.ask).objects.get(pk=rows.ask.pk)
    ask.pk, ask.dealt_at, ask.dealt_by, ask.outcome = None, NOW, owner, "Take T-02."
    ask.save(force_insert=True)
    TagOut.objects.create(
        **own,
        machine=rows.machine,
        reason="Leak.",
        cleared_by=rows.house.owner,
        cleared_at=NOW,
        clear_reason="Mended.",
    )


def text_of(answer):
    """What an answer holds, as a browser is told to read it."""
    read(answer)
    kind = answer.get("Content-Type", "").partition(";")[0]
    assert kind in KINDS, kind
    assert answer["X-Content-Type-Options"] == "nosniff"
    return kind, b"" if answer.streaming else answer.content


def assert_shut_in(answer):
    kind, content = text_of(answer)
    if kind == "text/html":
        assert got_out(content.decode()) == []
    elif kind == "application/json":
        json.loads(content)
    return content.decode(errors="replace")


@pytest.mark.parametrize("door", LOOKED_AT, ids=lambda door: door.name)
def test_a_page_shows_the_canary_as_text(ours, door):
    seen = ""
    for role, rights in RIGHTS.items():
        if door.get and not getattr(rights, door.get):
            continue
        answer = door.send(door.client(ours, role), "get", door.address(ours))
        assert answer.status_code == 200, role
        seen = assert_shut_in(answer)
    if not door.is_api and answer["Content-Type"].startswith("text/html"):
        assert ESCAPED in seen  # the person's name is on every page, so the canary was there to get out


def canaries(sent, path=()):
    """What is sent, with the canary in place of each text but those that choose something."""
    if isinstance(sent, dict):
        return {name: canaries(value, (*path, name)) for name, value in sent.items()}
    if isinstance(sent, list):
        return [canaries(value, path) for value in sent]
    return CANARY if isinstance(sent, str) else sent


@pytest.mark.parametrize(
    "door", [door for door in PAGES if door.post is not None], ids=lambda door: door.name
)
def test_a_form_shows_what_was_typed_as_text(ours, door):
    """Empty, with the canary in every text, and with good values: refused or done, and the page after it."""
    for body in ({}, canaries(door.body(ours)), door.body(ours)):
        with transaction.atomic():
            client = door.client(ours, "owner")
            answer = door.send(client, "post", door.address(ours), body)
            if answer.status_code == 302:
                answer = client.get(answer.url, follow=True)
            assert_shut_in(answer)
            transaction.set_rollback(True)


def test_the_canary_is_in_every_text_there_is(infested):
    """A new column is planted too; one that nobody types is named in NOT_TYPED."""
    _, planted = infested
    every = {f"{model.__name__}.{name}" for model in models() for name in typed(model)}
    missing = {name for name in every if name.partition(".")[0] not in NO_ROWS} - planted
    assert missing == set()
    columns = {model.__name__: {field.name for field in model._meta.get_fields()} for model in models()}
    for named in (NOT_TYPED, IN_JSON):
        assert [name for name, kept in named.items() if set(kept) - columns[name]] == []


@pytest.mark.parametrize(
    "page",
    [
        f"<p>{CANARY}</p>",
        f'<input value="{CANARY}">',
        f"<input value='{CANARY}'>",
        f"<input value={CANARY}>",
    ],
)
def test_a_canary_that_gets_out_is_seen(page):
    assert got_out(page)


def test_the_clearing_asks_for_the_word_that_a_person_wrote(ours):
    """Where it came out once: in the help text of the re-test."""
    door = DOORS["tag-out-clear"]
    page = door.send(door.client(ours, "owner"), "get", door.address(ours)).content.decode()
    assert f"It passes at: {ESCAPED_WORD}" in page
    assert got_out(page) == []
