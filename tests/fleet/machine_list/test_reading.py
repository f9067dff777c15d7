"""Lists as strangers type them are read by their headings, or by what their columns hold."""

import pytest

from tests.fleet.machine_list.lists import CASES


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_a_list_is_read_as_it_is_meant(lists, case):
    told = lists.tell(case.text)
    assert [column for column in told.columns if column] == case.columns.split()
    assert told.open is case.asked
    table = lists.table(case.text)
    by_bar = case.tags.split("|") if "|" in case.tags else case.tags.split()
    assert [row["tag"] for row in table.rows] == [tag.strip() for tag in by_bar]
    judged = lists.judge(case.text)
    if case.of:
        (entry,) = [entry for entry in judged.entries if entry.tag == case.of]
        assert {name: getattr(entry, name) for name in case.fact} == case.fact
