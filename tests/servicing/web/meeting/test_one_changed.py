"""What only one of two people changed is taken without a question."""

from datetime import timedelta

import pytest

from tests.sent_form import as_sent
from tests.servicing.web.meeting.desk import (
    LATER,
    NOW,
    VALUES,
    Desk,
    as_kept,
    closing,
    kept,
    record,
    said,
    typed,
)

pytestmark = pytest.mark.time_machine(NOW, tick=False)


@pytest.mark.parametrize("begun", ["blank", "recorded"])
@pytest.mark.parametrize("what", VALUES)
def test_what_i_did_not_change_takes_theirs_and_says_so(farm, started, names, bea, time_machine, what, begun):
    _, theirs, _, before = VALUES[what]
    other = "note" if what != "note" else "found"
    if begun == "recorded":
        record(farm, farm.technician, started, **{what: before})
    desk = Desk(farm, "technician", closing(started))
    time_machine.move_to(LATER)
    record(farm, bea, started, **{what: theirs})
    assert desk.press(**{names[other]: VALUES[other][0]}) == 409
    assert desk.asks(names[what]) == []
    told = f"Now {said(what, theirs)}, recorded by Bea Lund, Mon 4 May, 12:05. You had not changed it here."
    assert told in desk.page
    assert desk.press() == 302
    assert kept(farm, started)[what] == as_kept(what, theirs)
    assert kept(farm, started)[other] == as_kept(other, VALUES[other][0])


@pytest.mark.parametrize("what", VALUES)
def test_what_somebody_emptied_and_i_did_not_change_stays_empty(farm, started, names, bea, what):
    other = "note" if what != "note" else "found"
    record(farm, farm.technician, started, **{what: VALUES[what][3]})
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started)
    assert desk.press(**{names[other]: VALUES[other][0]}) == 409
    assert "You had not changed it" in desk.page
    assert desk.press() == 302
    assert kept(farm, started)[what] == ""


@pytest.mark.parametrize("what", VALUES)
def test_what_nobody_else_changed_is_not_asked(farm, started, names, bea, what):
    other = "note" if what != "note" else "found"
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, **{other: VALUES[other][1]})
    assert desk.press(**typed(names, what, VALUES[what][0])) == 409
    assert desk.asks(names[what]) == []
    assert desk.press() == 302
    assert kept(farm, started)[what] == as_kept(what, VALUES[what][0])
    assert kept(farm, started)[other] == as_kept(other, VALUES[other][1])


@pytest.mark.parametrize("same", ["7,10", " 7.100 ", "7.1"])
def test_the_same_value_written_otherwise_is_no_question(farm, started, names, bea, same):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, found="7.1", note="one\ntwo")
    assert desk.press(**{names["found"]: same, names["note"]: "one\r\ntwo"}) == 409
    assert "asked" not in as_sent(desk.page)
    assert desk.press() == 302


def test_the_same_figure_in_another_unit_is_a_question(farm, started, names, bea):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, found="7.1")
    assert desk.press(**{names["found"]: "7.1", f"{names['found']}_unit": "in"}) == 409
    assert desk.asks(names["found"])[1] == "7.1 in (yours, as above)"
    assert desk.press(**{f"stands-{names['found']}": "theirs"}) == 302
    assert kept(farm, started)["found"] == "7.1 mm"


def test_left_with_its_reason_and_day_is_one_answer(farm, started, names, bea):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, outcome="deferred", reason="Under water", until=NOW.date() + timedelta(days=3))
    assert desk.press(**{names["outcome"]: "done"}) == 409
    assert desk.asks(names["outcome"])[0].startswith(
        "Deferred until 7 May 2026: Under water (recorded by Bea"
    )
    assert desk.asks(names["reason"]) == []
    assert desk.press(**{f"stands-{names['outcome']}": "theirs"}) == 302
    with farm.scope():
        line = started.lines.get()
    assert (line.outcome, line.reason) == ("deferred", "Under water")
    assert line.deferred_until.isoformat() == "2026-05-07"
