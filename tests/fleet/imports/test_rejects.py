"""What a file's sender gets back of it: each rejected line with its reason, ready to be mended and sent."""

import csv
from decimal import Decimal

import pytest

from fleet.core.languages import spoken_to
from fleet.imports import uploads
from fleet.models import Machine, Reading, User
from tests.fleet.imports.sent_files import HEAD, receive, start, taken

pytestmark = pytest.mark.usefixtures("kept_apart")


def test_rejects_come_with_line_reason_and_their_columns_and_can_be_mended(in_farm, machines):
    text = HEAD + "T-01;05.01.2026;10,5\nT-9;05.01.2026;7\nT-02;31.02.2026;8\nT-02;01.03.2026\n"
    sent = start(in_farm, receive(in_farm, text), order="dmy")
    uploads.run(sent.pk)
    assert taken(sent) == ("done", 4, 1, 0, 0, 3)
    data = b"".join(uploads.rejects_csv(sent))
    rows = list(csv.DictReader(data.decode("utf-8-sig").splitlines()))
    assert [(row["line"], row["machine"], row["date"], row["hours"]) for row in rows] == [
        ("3", "T-9", "05.01.2026", "7"),
        ("4", "T-02", "31.02.2026", "8"),
        ("5", "T-02", "01.03.2026", ""),
    ]
    assert [row["reason"] for row in rows] == [
        "No machine here has the fleet number or serial number 'T-9'.",
        "“31.02.2026” is not a date.",
        "The hours are missing.",
    ]
    mended = (
        data.replace(b"T-9,", b"T-01,").replace(b"05.01.2026,7", b"06.01.2026,12").replace(b"31.02", b"28.02")
    )
    again = start(in_farm, receive(in_farm, mended, "hours.rejects.csv"))
    uploads.run(again.pk)
    assert taken(again) == ("done", 3, 2, 0, 0, 1)


def test_rejects_that_a_german_gets_come_back_as_well(in_farm, machines):
    """Semicolons between the columns, German over the first two, commas in the hours, an umlaut in a note."""
    text = HEAD.replace("hours", "hours;note") + "T-9;05.01.2026;1012,5;für Bea\nT-02;31.02.2026;8,25;\n"
    sent = start(in_farm, receive(in_farm, text), order="dmy")
    uploads.run(sent.pk)
    with spoken_to(User(language="de")):
        data = b"".join(uploads.rejects_csv(sent, ","))
    rows = list(csv.reader(data.decode("utf-8-sig").splitlines(), delimiter=";"))
    assert [row[0] for row in rows] == ["Zeile", "2", "3"]
    assert [row[-2:] for row in rows[1:]] == [["1012,5", "für Bea"], ["8,25", ""]]
    mended = data.replace(b";T-9;", b";T-01;").replace(b"31.02", b"28.02")
    again = start(in_farm, receive(in_farm, mended, "hours.rejects.csv"))
    uploads.run(again.pk)
    assert taken(again) == ("done", 2, 2, 0, 0, 0)
    assert [str(each.shows) for each in Reading.objects.order_by("taken_at")] == ["1012.50", "8.25"]


@pytest.mark.security
def test_rejects_with_formulas_are_guarded_and_come_back_as_they_were(in_farm, machines):
    """OWASP, CSV Injection; a tab or a carriage return before a cell's words is trimmed when it is read."""
    in_farm.machine(tag="=1+1")
    tags = ["=1+1", "=T9", "+T9", "-T9", "@T9", "'=T9", "X-9"]
    body = "".join(f"{tag};{day:02}.01.2026;{10 + day}\n" for day, tag in enumerate(tags, start=13))
    sent = start(in_farm, receive(in_farm, HEAD + body))
    uploads.run(sent.pk)
    assert taken(sent) == ("done", 7, 1, 0, 0, 6)
    data = b"".join(uploads.rejects_csv(sent))
    cells = [row[2] for row in csv.reader(data.decode("utf-8-sig").splitlines())][1:]
    assert cells == ["'=T9", "'+T9", "'-T9", "'@T9", "'=T9", "X-9"]
    for tag in ("=T9", "+T9", "-T9", "@T9"):
        in_farm.machine(tag=tag)
    again = start(in_farm, receive(in_farm, data, "hours.rejects.csv"))
    uploads.run(again.pk)
    assert taken(again) == ("done", 6, 5, 0, 0, 1)
    assert Machine.objects.get(tag="+T9").hours == Decimal("25.00")
