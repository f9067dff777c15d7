"""A question that meets another refusal, a lost page or an invented answer."""

import pytest

from fleet.models import TagOut
from servicing.models import SafetyFailure
from tests.sent_form import as_sent
from tests.servicing.web.meeting.desk import NOW, Desk, closing, kept, record

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_an_answered_question_survives_another_refusal(farm, started, names, bea):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, found="7.1", outcome="done")
    desk.press("close", **{names["found"]: "7.4"})
    assert desk.press("close", **{f"stands-{names['found']}": "theirs", "hours": ""}) == 422
    assert as_sent(desk.page)[names["found"]] == ["7.1"]
    assert desk.press("close", hours="1004") == 302
    assert kept(farm, started)["found"] == "7.1 mm"


def test_one_answer_of_two_is_taken_and_the_other_asked_for(farm, started, names, bea):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, found="7.1", note="cold")
    desk.press(**{names["found"]: "7.4", names["note"]: "warm"})
    assert desk.press(**{f"stands-{names['found']}": "theirs"}) == 409
    assert as_sent(desk.page)["asked"] == [names["note"]]
    assert as_sent(desk.page)[names["found"]] == ["7.1"]
    assert desk.press(**{f"stands-{names['note']}": "mine"}) == 302
    assert kept(farm, started) == {"outcome": "", "left": "", "found": "7.1 mm", "note": "warm"}


@pytest.mark.parametrize("carried", ["", "{", "[]", '{"x": 1}', "null"])
def test_a_page_that_lost_what_it_was_shown_with_is_asked_and_empties_nothing(
    farm, started, names, bea, carried
):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, found="7.1", note="cold")
    assert desk.press(**{names["found"]: "7.4", "shown": carried}) == 409
    assert as_sent(desk.page)["asked"] == [names["found"]]
    assert desk.press(**{f"stands-{names['found']}": "mine"}) == 302
    assert kept(farm, started) == {"outcome": "", "left": "", "found": "7.4 mm", "note": "cold"}


@pytest.mark.parametrize("asked", ["hours_confirmed", "revision", "lines-1-nothing", "²", "further-0-part"])
def test_an_invented_question_is_passed_over(farm, started, names, asked):
    desk = Desk(farm, "technician", closing(started))
    assert desk.press(**{names["note"]: "warm", "asked": asked, f"stands-{asked}": "theirs"}) == 302
    assert kept(farm, started)["note"] == "warm"


def test_a_safety_check_that_fails_counts_while_it_is_being_asked_about(farm, duty, started, names, bea):
    with farm.scope():
        duty.task.checks.update(safety=True)
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, found="7.1")
    desk.press(**{names["found"]: "7.4"})
    assert desk.press(**{names["found"]: "9"}) == 409
    with farm.scope():
        assert TagOut.objects.open().get().machine == duty.machine
        assert SafetyFailure.objects.get().as_found == "9 mm"
    assert kept(farm, started)["found"] == "7.1 mm", "nobody said that mine stands"
