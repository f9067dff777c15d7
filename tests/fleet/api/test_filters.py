"""A filter, a value or a page that isn't known is refused with what there is; none is passed over."""

import pytest

V1 = "/api/v1"


def refusals(farm, address):
    """What is refused of that address, by the parameter."""
    answer = farm.api("manager").get(f"{V1}/{address}")
    assert answer.status_code == 400, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    return {each["parameter"]: each["detail"] for each in answer.json()["errors"]}


@pytest.mark.parametrize(
    ("address", "parameter", "said"),
    [
        (
            "machines?colour=red",
            "colour",
            "There is no such filter here. There are: category, ordering, page,",
        ),
        ("machines/1?tag=T-07", "tag", "This address takes no filters."),
        ("programs?type=1", "type", "There is no such filter here. There are: page, page_size."),
        ("phone?machine=1", "machine", "There is no such filter here. There are: code."),
        (
            "readings?state=lost",
            "state",
            "There is no such value: lost. There are: counted, held, discarded.",
        ),
        ("orders?state=open&state=planned", "state", "There is no such value: open. There are: planned,"),
        ("machines?ordering=-age", "ordering", "There is no such value: -age. There are: tag, -tag,"),
        ("hires?out=maybe", "out", "Write true or false."),
        ("tasks-due?overdue=2", "overdue", "Write true or false."),
        ("tasks-due?likely_before=03/05/2026", "likely_before", "Write the day as 2026-05-03."),
        ("bookings?since=2026-02-30", "since", "Write the day as 2026-05-03."),
        ("faults?severity=bad", "severity", "There is no such value: bad. There are: note, soon, stops."),
        ("machines?yard=1&yard=2", "yard", "Give it once."),
        ("machines?page_size=501", "page_size", "Give a whole number from 1 to 500."),
        ("machines?page_size=0", "page_size", "Give a whole number from 1 to 500."),
        ("machines?page_size=many", "page_size", "Give a whole number from 1 to 500."),
    ],
)
def test_each_is_named_with_what_there_is(farm, address, parameter, said):
    told = refusals(farm, address)
    assert list(told) == [parameter]
    assert told[parameter].startswith(said)


def test_two_wrong_at_once_are_both_named(farm):
    assert set(refusals(farm, "machines?colour=red&yard=1&yard=2")) == {"colour", "yard"}


def test_a_percent_sign_is_no_format(farm):
    assert "100%s" in refusals(farm, "machines?state=100%25s")["state"]


def test_what_may_be_given_twice_is_taken_twice(farm):
    assert farm.api("manager").get(f"{V1}/orders?state=planned&state=started").status_code == 200


def test_yes_and_no_in_either_way(farm):
    machine = farm.machine()
    for said in ("true", "True", "1", "false", "0", ""):
        answer = farm.api("manager").get(f"{V1}/faults?open={said}&machine={machine.pk}")
        assert answer.status_code == 200


def test_a_former_name_is_no_unknown_filter(farm):
    assert farm.api("manager").get(f"{V1}/tasks-due?past=true").status_code == 200


def test_the_largest_page_is_taken(farm):
    farm.machine()
    answer = farm.api("manager").get(f"{V1}/machines?page_size=500").json()
    assert (answer["count"], len(answer["results"])) == (1, 1)
    assert farm.api("manager").get(f"{V1}/machines?page=2").status_code == 404
