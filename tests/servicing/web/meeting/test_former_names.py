"""A page that was made by the version before is sent after the upgrade: nothing typed on it is lost."""

import json
from datetime import date, timedelta

import pytest

from tests.servicing.web.meeting.desk import NOW, Desk, closing, kept, record

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def former(names):
    return names["until"].replace("deferred_until", "put_off_until")


def test_what_was_left_on_it_is_deferred(farm, started, names):
    desk = Desk(farm, "technician", closing(started))
    typed = {names["outcome"]: "left", names["reason"]: "Under water", former(names): "2026-05-07"}
    assert desk.press(**typed) == 302
    with farm.scope():
        line = started.lines.get()
    assert (line.outcome, line.reason, line.deferred_until) == ("deferred", "Under water", date(2026, 5, 7))


def test_what_it_showed_as_left_is_known_as_deferred(farm, started, names, bea):
    record(farm, bea, started, outcome="deferred", reason="Under water", until=NOW.date() + timedelta(days=3))
    desk = Desk(farm, "technician", closing(started))
    shown = {names["outcome"]: "left", names["reason"]: "Under water", former(names): "2026-05-07"}
    brought = {names["outcome"]: "left", names["reason"]: "Under water", former(names): "2026-05-07"}
    record(farm, bea, started, outcome="done", found="7.5")
    assert desk.press(shown=json.dumps(shown), **brought, **{names["note"]: "checked warm"}) == 409
    assert desk.asks(names["outcome"]) == []  # it was only brought along: theirs is taken
    assert desk.press() == 302
    assert kept(farm, started) | {"found": ""} == {
        "outcome": "done",
        "note": "checked warm",
        "found": "",
        "left": "",
    }
