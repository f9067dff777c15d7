"""The job sheet's merging and its order of work. The orders asked for are common practice, no source."""

from decimal import Decimal
from itertools import permutations

from hypothesis import given
from hypothesis import strategies as st

from servicing.planning.sheet import Job, Supply, merge_supplies, merge_texts, merge_tools, order_of_work

WALK = ["seat", "front", "left", "rear", "right"]


def ids(stops):
    return [stop.job.id for stop in stops]


def test_warm_work_comes_first_and_cold_work_last():
    jobs = [
        Job(1, engine="cold", place="front"),
        Job(2, engine="any", place="seat"),
        Job(3, engine="warm", place="right"),
        Job(4, engine="warm", place="left"),
    ]
    for mixed in permutations(jobs):
        assert ids(order_of_work(mixed, WALK)) == [4, 3, 2, 1]


def test_the_round_goes_on_where_the_warm_work_ended():
    jobs = [Job(1, place="seat"), Job(2, place="rear"), Job(3, place="right"), Job(4, "warm", "left")]
    assert ids(order_of_work(jobs, WALK)) == [4, 2, 3, 1]


def test_a_cover_is_opened_before_its_first_task_and_closed_after_its_last():
    jobs = [
        Job(1, place="front", opens=("bonnet",)),
        Job(2, place="left"),
        Job(3, place="right", opens=("bonnet", "side panel")),
    ]
    stops = order_of_work(jobs, WALK)
    assert [(stop.job.id, stop.opens, stop.closes) for stop in stops] == [
        (1, ("bonnet",), ()),
        (3, ("side panel",), ("bonnet", "side panel")),
        (2, (), ()),
    ]


def test_what_may_be_done_at_any_time_joins_the_warm_task_behind_its_cover():
    jobs = [
        Job(1, place="front", opens=("bonnet",)),
        Job(2, engine="warm", place="right", opens=("bonnet",)),
        Job(3, place="seat"),
    ]
    stops = order_of_work(jobs, WALK)
    assert ids(stops) == [1, 2, 3]
    assert [stop.opens for stop in stops] == [("bonnet",), (), ()]


def test_a_cover_is_closed_between_warm_and_cold_work_only_if_other_work_lies_between():
    warm, cold = Job(1, "warm", "front", ("bonnet",)), Job(2, "cold", "front", ("bonnet",))
    assert [stop.opens for stop in order_of_work([cold, warm], WALK)] == [("bonnet",), ()]
    stops = order_of_work([cold, warm, Job(3, place="rear")], WALK)
    assert [(stop.job.id, stop.opens, stop.closes) for stop in stops] == [
        (1, ("bonnet",), ("bonnet",)),
        (3, (), ()),
        (2, ("bonnet",), ("bonnet",)),
    ]


job_lists = st.lists(
    st.builds(
        Job,
        id=st.just(0),
        engine=st.sampled_from(["warm", "any", "cold"]),
        place=st.sampled_from([*WALK, "", "roof"]),
        opens=st.lists(st.sampled_from(["bonnet", "panel", "grille"]), unique=True, max_size=2).map(tuple),
    ),
    max_size=9,
).map(lambda jobs: [Job(n, job.engine, job.place, job.opens) for n, job in enumerate(jobs)])


@given(job_lists)
def test_nothing_is_lost_and_every_cover_opened_is_closed(jobs):
    stops = order_of_work(jobs, WALK)
    assert sorted(ids(stops)) == [job.id for job in jobs]
    is_open = set()
    for stop in stops:
        assert not is_open & set(stop.opens)
        is_open |= set(stop.opens)
        assert set(stop.job.opens) <= is_open
        is_open -= set(stop.closes)
    assert is_open == set()


@given(job_lists)
def test_a_cover_is_opened_twice_only_for_warm_and_cold_work(jobs):
    stops = order_of_work(jobs, WALK)
    engines = {job.engine for job in jobs}
    for cover in ("bonnet", "panel", "grille"):
        times = sum(cover in stop.opens for stop in stops)
        assert times <= (2 if {"warm", "cold"} <= engines else 1)


def test_tools_are_merged_by_name_and_their_sizes_by_unit():
    needs = [
        ("wrench", "17 mm"),
        ("Wrench", "12 mm"),
        ("wrench", "14 mm"),
        ("wrench", "12 mm"),
        ("wrench", "1/2 in"),
        ("wrench", "3/8 in"),
        ("funnel", ""),
        ("drain pan", "15 L"),
        ("drain pan", "5 L"),
    ]
    assert [str(tool) for tool in merge_tools(needs)] == [
        "drain pan 5, 15 L",
        "funnel",
        "wrench 3/8, 1/2 in; 12, 14, 17 mm",
    ]


def test_one_torque_wrench_reaches_the_highest_value_asked():
    needs = [("torque wrench", "to 30 N·m"), ("torque wrench", "to 100 N·m"), ("socket", "17 mm")]
    assert [str(tool) for tool in merge_tools(needs)] == ["socket 17 mm", "torque wrench up to 100 N·m"]
    # 90 lbf·ft is 122.02 N·m (NIST SP 811), so it is the highest here
    asked = [(Decimal("122.0236"), "90 lbf·ft"), (Decimal(25), "25 N·m")]
    assert [str(tool) for tool in merge_tools(needs, asked)] == [
        "socket 17 mm",
        "torque wrench up to 90 lbf·ft",
    ]
    assert [str(tool) for tool in merge_tools([], asked)] == ["torque wrench up to 90 lbf·ft"]


def supply(part, quantity, in_stock="10"):
    return Supply(part, f"Part {part}", f"N-{part}", "", "L", Decimal(quantity), Decimal(in_stock))


def test_supplies_are_added_up_against_stock():
    merged = merge_supplies([supply(1, "4.5", "5"), supply(2, "1"), supply(1, "0.75", "5")])
    assert [(row.part, row.quantity, row.short) for row in merged] == [
        (1, Decimal("5.25"), Decimal("0.25")),
        (2, Decimal("1"), Decimal("0")),
    ]
    assert supply(1, "2", "-1").short == 2


def test_the_same_preparation_is_said_once():
    assert merge_texts(["Key out.", "Level ground", "key out", "Level ground."]) == [
        "Key out.",
        "Level ground",
    ]
