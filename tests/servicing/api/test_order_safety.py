"""A failed safety check that comes in over the API counts, whatever else is wrong with what was sent."""

import pytest

from fleet.models import TagOut
from tests.servicing.api.order_bodies import NOW, URL, closing

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def open_tag_outs(farm):
    with farm.scope():
        return list(TagOut.objects.open())


def left_without_a_day(body):
    body["lines"][0] |= {"outcome": "deferred", "reason": "rain"}


@pytest.mark.parametrize("action", ["record", "close"])
def test_what_fails_is_kept_beside_what_is_missing_and_the_new_revision_told(
    farm, started, safety_check, action
):
    body = closing(farm, started, "9")
    left_without_a_day(body)
    answer = farm.api("technician").post(f"{URL}/{started.pk}/{action}", body)
    assert answer.status_code == 422
    assert [each["pointer"] for each in answer.json()["errors"]] == ["#/lines/0/deferred_until"]
    assert answer.json()["revision"] == started.revision + 1
    assert len(open_tag_outs(farm)) == 1
    shown = farm.api("technician").get(f"{URL}/{started.pk}").json()
    assert shown["lines"][0]["results"][0]["found_value"] == "9.000000"
    assert (shown["revision"], len(shown["tagged_out"])) == (started.revision + 1, 1)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda body: body["lines"][0].update(deferred_until="soon"),
        lambda body: body.update(labour=[{"technician": 1, "minutes": "1:75"}]),
        lambda body: body.update(parts="none"),
        lambda body: body.pop("revision"),
        lambda body: body["lines"].append("x"),
        lambda body: body["lines"][0]["checks"][0].update(left="x" * 81),
        lambda body: body["lines"][0]["checks"].append(7),
    ],
)
def test_what_fails_counts_in_a_body_that_cannot_be_read(farm, started, safety_check, spoil):
    body = closing(farm, started, "9")
    spoil(body)
    answer = farm.api("technician").post(f"{URL}/{started.pk}/record", body)
    assert answer.status_code == 400
    assert len(open_tag_outs(farm)) == 1
    assert farm.api("technician").get(f"{URL}/{started.pk}").json()["revision"] == started.revision


@pytest.mark.parametrize(
    "body",
    [[], "x", {}, {"lines": 7}, {"lines": [{"line": {}, "checks": [{"check": []}]}, {"line": "9" * 5000}]}],
)
def test_a_body_of_nonsense_tags_nothing_out(farm, started, safety_check, body):
    answer = farm.api("technician").post(f"{URL}/{started.pk}/record", body)
    assert answer.status_code == 400
    assert open_tag_outs(farm) == []


@pytest.mark.security
@pytest.mark.parametrize("spoil", [lambda body: None, lambda body: body.update(parts="none")])
def test_nobody_else_tags_a_machine_out_this_way(farm, stranger, started, safety_check, spoil):
    body = closing(farm, started, "9")
    spoil(body)
    path = f"{URL}/{started.pk}/record"
    assert stranger.api("owner").post(path, body).status_code == 404
    assert farm.api("counter").post(path, body).status_code == 403
    assert open_tag_outs(farm) == []
