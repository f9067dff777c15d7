"""Two people write into one order: whose value stands is asked, never guessed. As without JavaScript."""

import pytest

from tests.sent_form import as_sent
from tests.servicing.web.meeting.desk import (
    CHOOSE,
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


# ------------------------------------------------------------------ both changed it


# mine and theirs of each field, and a third; what was recorded when the page was made
@pytest.mark.parametrize("begun", ["blank", "recorded"])
@pytest.mark.parametrize("answer", ["mine", "theirs"])
@pytest.mark.parametrize("what", VALUES)
def test_what_both_changed_is_asked_and_the_answer_stands(
    farm, started, names, bea, time_machine, what, answer, begun
):
    mine, theirs, _, before = VALUES[what]
    if begun == "recorded":
        record(farm, farm.technician, started, **{what: before})
    desk = Desk(farm, "technician", closing(started))
    time_machine.move_to(LATER)
    record(farm, bea, started, **{what: theirs})

    assert desk.press(**typed(names, what, mine)) == 409
    assert desk.asks(names[what]) == [
        f"{said(what, theirs)} (recorded by Bea Lund, Mon 4 May, 12:05)",
        f"{said(what, mine)} (yours, as above)",
    ]
    assert kept(farm, started)[what] == as_kept(what, theirs)

    # pressing again without an answer is refused, and the question is still there
    assert desk.press() == 409
    assert CHOOSE in desk.page
    assert len(desk.asks(names[what])) == 2
    assert kept(farm, started)[what] == as_kept(what, theirs)

    assert desk.press(**{f"stands-{names[what]}": answer}) == 302
    assert kept(farm, started)[what] == as_kept(what, mine if answer == "mine" else theirs)


@pytest.mark.parametrize("what", VALUES)
def test_no_answer_is_preset(farm, started, names, bea, what):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, **{what: VALUES[what][1]})
    desk.press(**typed(names, what, VALUES[what][0]))
    assert f"stands-{names[what]}" not in as_sent(desk.page)
    assert as_sent(desk.page)["asked"] == [names[what]]


@pytest.mark.parametrize("answer", ["mine", "theirs"])
@pytest.mark.parametrize("what", ["found", "left", "note"])
def test_what_i_emptied_and_somebody_changed_is_asked(farm, started, names, bea, what, answer):
    _, theirs, _, before = VALUES[what]
    record(farm, farm.technician, started, **{what: before})
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, **{what: theirs})
    assert desk.press(**{names[what]: ""}) == 409
    assert desk.asks(names[what])[1] == "Nothing (yours, as above)"
    assert desk.press(**{f"stands-{names[what]}": answer}) == 302
    assert kept(farm, started)[what] == ("" if answer == "mine" else as_kept(what, theirs))


@pytest.mark.parametrize("answer", ["mine", "theirs"])
@pytest.mark.parametrize("what", VALUES)
def test_what_i_changed_and_somebody_emptied_is_asked(farm, started, names, bea, what, answer):
    mine, _, _, before = VALUES[what]
    record(farm, farm.technician, started, **{what: before})
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started)
    assert desk.press(**typed(names, what, mine)) == 409
    assert desk.asks(names[what])[0].startswith(("Nothing (recorded", "Nothing chosen (recorded"))
    assert desk.press(**{f"stands-{names[what]}": answer}) == 302
    assert kept(farm, started)[what] == (as_kept(what, mine) if answer == "mine" else "")


# ------------------------------------------------------------------ a third change


@pytest.mark.parametrize("answer", ["mine", "theirs"])
@pytest.mark.parametrize("what", VALUES)
def test_a_third_change_of_it_asks_again(farm, started, names, bea, what, answer):
    mine, theirs, third, _ = VALUES[what]
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, **{what: theirs})
    desk.press(**typed(names, what, mine))
    record(farm, farm.owner, started, **{what: third})
    assert desk.press(**{f"stands-{names[what]}": answer}) == 409
    told = desk.asks(names[what])
    assert told[0].startswith(f"{said(what, third)} (recorded by {farm.owner}")
    assert told[1] == f"{said(what, mine)} (yours, as above)"
    assert f"stands-{names[what]}" not in as_sent(desk.page)
    assert kept(farm, started)[what] == as_kept(what, third)
    assert desk.press() == 409
    assert desk.press(**{f"stands-{names[what]}": "mine"}) == 302
    assert kept(farm, started)[what] == as_kept(what, mine)


@pytest.mark.parametrize("answer", ["mine", "theirs"])
def test_an_answer_stands_where_the_third_change_was_elsewhere(farm, started, names, bea, answer):
    desk = Desk(farm, "technician", closing(started))
    record(farm, bea, started, found="7.1")
    desk.press(**{names["found"]: "7.4"})
    record(farm, bea, started, found="7.1", note="cold")
    assert desk.press(**{f"stands-{names['found']}": answer}) == 409
    assert as_sent(desk.page)[f"stands-{names['found']}"] == [answer]
    assert desk.press() == 302
    assert kept(farm, started) | {"outcome": "", "left": ""} == {
        "outcome": "",
        "left": "",
        "note": "cold",
        "found": "7.4 mm" if answer == "mine" else "7.1 mm",
    }


def test_somebody_saves_while_a_refused_page_is_made_anew(farm, started, names, bea):
    """Refused for something of its own, the page must not pass over what came in between."""
    desk = Desk(farm, "technician", closing(started))
    assert desk.press("close", **{names["found"]: "7.4", names["outcome"]: "done", "hours": "soon"}) == 422
    record(farm, bea, started, found="7.1")
    assert desk.press("close", hours="1004") == 409
    assert desk.press("close") == 409
    assert desk.press("close", **{f"stands-{names['found']}": "mine"}) == 302
    assert kept(farm, started)["found"] == "7.4 mm"
