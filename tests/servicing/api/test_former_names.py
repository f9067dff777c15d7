"""For one version requests about orders may say things as the version before did; answers never do."""

import pytest

from tests.servicing.api.order_bodies import NOW, URL

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def deferring(farm, order, outcome="deferred", **until):
    with farm.scope():
        line = order.lines.get().pk
    entry = {"line": line, "outcome": outcome, "reason": "No belt in stock.", **until}
    return {"revision": order.revision, "lines": [entry]}


@pytest.mark.parametrize("outcome", ["deferred", "left"])
@pytest.mark.parametrize("until", ["deferred_until", "put_off_until"])
def test_a_line_is_deferred_under_either_name(farm, started, outcome, until):
    sent = deferring(farm, started, outcome, **{until: "2026-05-20"})
    answer = farm.api("technician").post(f"{URL}/{started.pk}/record", sent)
    assert answer.status_code == 200, answer.json()
    line = answer.json()["lines"][0]
    assert (line["outcome"], line["deferred_until"]) == ("deferred", "2026-05-20")
    assert "put_off_until" not in line


def test_both_names_at_once_are_refused(farm, started):
    sent = deferring(farm, started, deferred_until="2026-05-20", put_off_until="2026-05-20")
    answer = farm.api("technician").post(f"{URL}/{started.pk}/record", sent)
    assert answer.status_code == 400
    assert [error["pointer"] for error in answer.json()["errors"]] == ["#/lines/0/put_off_until"]


def test_an_outcome_that_never_was_is_refused(farm, started):
    sent = deferring(farm, started, "mislaid", deferred_until="2026-05-20")
    answer = farm.api("technician").post(f"{URL}/{started.pk}/record", sent)
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json()["errors"]] == ["#/lines/0/outcome"]
