"""The job sheet's merging. What a list should look like is common practice, no source."""

from decimal import Decimal

from servicing.planning.merge_lists import Supply, merge_supplies, merge_texts, merge_tools


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
    assert [str(tool) for tool in merge_tools(needs)] == ["socket 17 mm", "torque wrench to at least 100 N·m"]
    # 90 lbf·ft is 122.02 N·m (NIST SP 811), so it is the highest here
    asked = [(Decimal("122.0236"), "90 lbf·ft"), (Decimal(25), "25 N·m")]
    assert [str(tool) for tool in merge_tools(needs, asked)] == [
        "socket 17 mm",
        "torque wrench to at least 90 lbf·ft",
    ]
    assert [str(tool) for tool in merge_tools([], asked)] == ["torque wrench to at least 90 lbf·ft"]


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
