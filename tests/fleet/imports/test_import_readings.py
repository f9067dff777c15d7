"""`manage.py import_readings`: files taken in, rerun without doubling, bad rows told by line and reason."""

import csv
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django_scopes import scope
from openpyxl import Workbook

from fleet.models import Machine, Organisation, Reading, Yard

DATA = Path(__file__).parents[1] / "data"  # real hours of aircraft, open data; see the README there
GOOD = (
    "machine,taken_at,hours\nT-01,2026-01-05,10\nT-01,2026-01-12,31.5\nT-02,2026-01-05T07:30:00+01:00,400\n"
)


@pytest.fixture
def run(tmp_path, capsys):
    """Write a file, import it and return what was printed."""

    def run(text, *options, organisation="alder-farm", name="hours.csv", first=True):
        if first:
            options = (*options, "--first-import")
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        call_command("import_readings", str(path), "--organisation", organisation, *options)
        return capsys.readouterr().out

    return run


@pytest.fixture
def machines(farm):
    return [farm.machine(tag=tag) for tag in ("T-01", "T-02")]


def test_a_file_is_taken_in_once_however_often_it_is_run(farm, machines, run, tmp_path):
    assert "3 rows: 3 counted, 0 held, 0 duplicates, 0 rejected." in run(GOOD)
    assert "3 rows: 0 counted, 0 held, 3 duplicates, 0 rejected." in run(GOOD)
    with farm.scope():
        assert Reading.objects.count() == 3
        assert Machine.objects.get(tag="T-01").hours == Decimal("31.50")
    assert not (tmp_path / "hours.rejects.csv").exists()


def test_a_plain_date_is_noon_and_a_plain_time_the_clock_at_the_yard(farm, machines, run):
    run(
        "machine,taken_at,hours\nT-01,2026-01-05,10\nT-01,2026-07-05T08:00,60\n"
    )  # Madrid: UTC+1, in summer +2
    with farm.scope():
        moments = list(Reading.objects.order_by("taken_at").values_list("taken_at", flat=True))
    assert moments == [datetime(2026, 1, 5, 11, tzinfo=UTC), datetime(2026, 7, 5, 6, tzinfo=UTC)]


def test_bad_rows_go_to_a_file_with_line_and_reason_and_sink_nothing(farm, machines, run, tmp_path):
    text = (
        "\ufeffHours,machine,taken_at\n10,T-01,2026-01-05\nten,T-01,2026-01-06\n\n"
        "12,T-99,2026-01-07\n-3,T-01,2026-01-08\n14,T-01,soon\n16,t-02,2026-01-09\n,T-01,2026-01-09\n17\n"
    )
    assert "8 rows: 2 counted, 0 held, 0 duplicates, 6 rejected." in run(text, "--blank-as-above", "no")
    with (tmp_path / "hours.rejects.csv").open(newline="") as file:
        rejects = list(csv.DictReader(file))
    assert [(row["line"], row["machine"]) for row in rejects] == [
        ("3", "T-01"),
        ("5", "T-99"),
        ("6", "T-01"),
        ("7", "T-01"),
        ("9", "T-01"),
        ("10", ""),
    ]
    assert "not a number of hours" in rejects[0]["reason"]
    assert rejects[1]["reason"] == "No machine here has the fleet number or serial number 'T-99'."


def test_a_date_at_the_beginning_of_the_calendar_rejects_its_row_alone(farm, machines, run, tmp_path):
    """Programs write it where they know no date."""
    text = f"{GOOD}T-01,0001-01-01 00:00:00,40\nT-01,0001-01-01T00:00:00+02:00,41\n"
    assert "5 rows: 3 counted, 0 held, 0 duplicates, 2 rejected." in run(text)
    rejects = (tmp_path / "hours.rejects.csv").read_text()
    assert rejects.count("The year 1 can't be right.") == 2


def test_implausible_rows_are_held_not_rejected(farm, machines, run):
    out = run("machine,taken_at,hours\nT-01,2026-01-05,100\nT-01,2026-01-06,124.5\nT-01,2026-01-12,130\n")
    assert "3 rows: 2 counted, 1 held, 0 duplicates, 0 rejected." in out


def test_rejects_can_be_written_elsewhere(farm, machines, run, tmp_path):
    elsewhere = tmp_path / "bad.csv"
    assert str(elsewhere) in run("machine,taken_at,hours\nT-01,,10\n", "--rejects", str(elsewhere))
    assert elsewhere.read_text().splitlines() == [
        "line,reason,machine,taken_at,hours",
        "2,The date is missing.,T-01,,10",
    ]


def test_a_new_organisation_with_its_machines(db, run, tmp_path):
    kinds = tmp_path / "machines.csv"
    kinds.write_text("machine,type\nT-01,Haldane HX 24\n")
    options = ("--create-organisation", "Cedar Farm", "--create-machines", "--machines", str(kinds))
    assert "2 machines added." in run(GOOD, *options, organisation="cedar-farm")
    assert "0 counted, 0 held, 3 duplicates" in run(GOOD, *options, organisation="cedar-farm")
    cedar = Organisation.objects.get(slug="cedar-farm", name="Cedar Farm")
    with scope(organisation=cedar):
        first, second = Machine.objects.order_by("tag")
        assert (str(first.type), str(second.type)) == ("Haldane HX 24", "Unknown type")
        assert (first.in_service_on, first.price) == (date(2026, 1, 5), None)
        assert first.yard == second.yard == Yard.objects.get()


def test_a_make_and_model_too_long_to_keep_is_refused(db, run, tmp_path):
    kinds = tmp_path / "kinds.csv"
    kinds.write_text(f"machine,type\nT-01,Haldane {'H' * 81}\n")
    options = ("--create-organisation", "Cedar Farm", "--create-machines", "--machines", str(kinds))
    with pytest.raises(CommandError, match="too long for a make and model"):
        run(GOOD, *options, organisation="cedar-farm")
    kinds.write_text(f"machine,type\nT-01,Haldane {'H' * 80}\n")
    assert "2 machines added." in run(GOOD, *options, organisation="cedar-farm")


def test_real_hours_count_whole_and_once(db, run):
    """Hours that real machines ran: nothing of them may be held, however uneven the use (data/README.md)."""
    text = (DATA / "aircraft_hours.csv").read_text()
    rows = list(csv.DictReader(text.splitlines()))
    options = (
        "--create-organisation",
        "Cedar Farm",
        "--create-machines",
        "--machines",
        str(DATA / "aircraft_types.csv"),
    )
    out = run(text, *options, organisation="cedar-farm")
    assert "12 machines added." in out
    assert f"{len(rows)} rows: {len(rows)} counted, 0 held, 0 duplicates, 0 rejected." in out
    assert f"0 counted, 0 held, {len(rows)} duplicates" in run(text, *options, organisation="cedar-farm")
    last = {row["machine"]: Decimal(row["hours"]) for row in rows}  # in time order
    with scope(organisation=Organisation.objects.get()):
        assert dict(Machine.objects.values_list("tag", "hours")) == last


def test_a_slip_among_real_hours_is_held(db, run):
    lines = (DATA / "aircraft_hours.csv").read_text().splitlines()
    machine, day, hours = lines[10].split(",")
    slip = f"{machine},{day},{Decimal(hours) * 10}"  # the point left out
    text = "\n".join([*lines[:10], slip, *lines[11:]])
    out = run(text, "--create-organisation", "Cedar Farm", "--create-machines", organisation="cedar-farm")
    assert f"{len(lines) - 2} counted, 1 held" in out
    with scope(organisation=Organisation.objects.get()):
        held = Reading.objects.held().get()
        assert (held.code, held.suggestion) == ("slipped_digit", Decimal(hours))


def test_machines_stay_within_the_organisation(farm, stranger, run):
    stranger.machine(tag="T-01")
    stranger.machine(tag="T-02")
    assert "0 counted, 0 held, 0 duplicates, 3 rejected." in run(GOOD)


def test_rows_beyond_one_batch(farm, machines, run, monkeypatch):
    monkeypatch.setattr("fleet.imports.rows.ROWS_AT_ONCE", 2)
    assert "3 counted" in run(GOOD)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("machine,hours\nT-01,10\n", "no column that is certain to be taken_at"),
        ("", "hours.csv is empty"),
        (b"\x89PNG\r\n\x1a\n\0\0\0", "neither a CSV nor an XLSX file"),
    ],
)
def test_a_file_that_cannot_be_read_ends_with_one_clear_line(farm, machines, run, text, said):
    with pytest.raises(CommandError, match=said) as error:
        run(text)
    assert error.value.returncode == 1
    assert "\n" not in str(error.value)
    with farm.scope():
        assert not Reading.objects.exists()


def test_a_missing_file_or_organisation_ends_with_one_clear_line(farm, run, tmp_path):
    with pytest.raises(CommandError, match="No such file"):
        call_command("import_readings", str(tmp_path / "none.csv"), "--organisation", "alder-farm")
    with pytest.raises(CommandError, match="There is no organisation 'nobody'"):
        run(GOOD, organisation="nobody")
    with pytest.raises(CommandError, match="can't be an organisation's short name"):
        run(GOOD, "--create-organisation", "Dale Farm", organisation="dale farm")


HEAD = "Unit;Date;Start;End\n"
REFUSALS = {
    "two columns may be the meter": (
        HEAD + "T-01;2026-01-05;3;10\nT-01;2026-01-06;10;17,5\n",
        "More than one column of hours.csv may be the hour meter: “Start”, “End”. "
        "Say so with --hours-column.",
        ("--hours-column", "End"),
        ["10.00", "17.50"],
    ),
    "by its number": (
        HEAD + "T-01;2026-01-05;3;10\nT-01;2026-01-06;10;17,5\n",
        "--hours-column",
        ("--hours-column", "3"),
        ["3.00", "10.00"],
    ),
    "two columns may be the day": (
        "Unit;Out;Back;Meter\nT-01;2026-01-05;2026-01-06;10\n",
        "no column that is certain to be taken_at; name it. Say so with --day-column.",
        ("--day-column", "back"),
        ["10.00"],
    ),
    "the order": (
        "Unit;Date;Meter\nT-01;03/04/2026;10\n",
        "doesn't show whether the day or the month comes first in its dates. Say so with --dates.",
        ("--order", "dmy"),
        ["10.00"],
    ),
    "two orders in one file": (
        "Unit;Date;Meter\nT-01;13/04/2026;10\nT-01;04/14/2026;12\n",
        "dates with the day first beside dates with the month first. Say so with --dates.",
        ("--dates", "dmy"),
        ["10.00", "12.00"],
    ),
    "the decimal mark": (
        "Unit;Date;Meter\nT-01;2026-04-13;1.204\n",
        "whether its hours have a decimal point or a comma. Say so with --decimal.",
        ("--decimal", "comma"),
        ["1204.00"],
    ),
    "the year": (
        "Unit;Date;Meter\nT-01;4 May;10\n",
        "has dates without a year. Say so with --year.",
        ("--year", "2026"),
        ["10.00"],
    ),
    "the day of a month": (
        "Unit;Month;Meter\nT-01;May 2026;10\n",
        "names months or years without a day. Say so with --day-within.",
        ("--day-within", "last"),
        ["10.00"],
    ),
    "blanks": (
        "Unit;Date;Meter\nT-01;2026-04-13;10\n;2026-04-14;12\n",
        "rows that leave the day or the machine blank. Say so with --blank-as-above.",
        ("--blank-as-above", "yes"),
        ["10.00", "12.00"],
    ),
}


@pytest.mark.parametrize(("text", "said", "answer", "shows"), REFUSALS.values(), ids=REFUSALS)
def test_what_it_would_have_to_guess_is_refused_with_the_option_that_answers(
    farm, machines, run, text, said, answer, shows
):
    with pytest.raises(CommandError) as error:
        run(text)
    assert said in str(error.value)
    with farm.scope():
        assert not Reading.objects.exists()
    run(text, *answer)
    with farm.scope():
        assert [
            str(each) for each in Reading.objects.order_by("taken_at").values_list("shows", flat=True)
        ] == shows


def test_first_readings_are_refused_until_they_are_confirmed(farm, machines, run):
    with pytest.raises(
        CommandError, match=r"machines without any reading yet\. .* Say so with --first-import\."
    ):
        run(GOOD, first=False)
    with farm.scope():
        assert not Reading.objects.exists()
    run(GOOD)
    assert "0 counted, 0 held, 3 duplicates" in run(GOOD, first=False)  # they have readings by now


def test_new_machines_need_the_confirmation_too(db, run):
    options = ("--create-organisation", "Cedar Farm", "--create-machines")
    with pytest.raises(CommandError, match="--first-import"):
        run(GOOD, *options, organisation="cedar-farm", first=False)
    assert not Organisation.objects.filter(slug="cedar-farm").exists()


@pytest.mark.parametrize(
    ("column", "said"),
    [
        ("Engine", "no column 'Engine' for --hours-column; it has: Unit, Date, Start, End."),
        ("9", "no column '9'"),
    ],
)
def test_a_column_that_is_not_there_is_told(farm, machines, run, column, said):
    with pytest.raises(CommandError) as error:
        run(HEAD + "T-01;2026-01-05;3;10\n", "--hours-column", column)
    assert said in str(error.value)


def test_two_things_wrong_at_once_are_told_one_after_the_other(farm, machines, run):
    text = HEAD + "T-01;4 May;1.203;1.210\n"
    answers = []
    for option in (("--hours-column", "End"), ("--decimal", "comma"), ("--year", "2026")):
        with pytest.raises(CommandError, match=option[0]):
            run(text, *answers)
        answers += option
    assert "1 counted" in run(text, *answers)


def test_rejects_of_several_sheets_say_which(farm, machines, run, tmp_path):
    book = Workbook()
    book.active.title = "Info"
    book.active.append(["Hour book"])
    for tag in ("T-01", "T 2"):
        sheet = book.create_sheet(tag)
        for row in (["Date", "Meter"], [date(2026, 1, 5), 10], [date(2026, 1, 6), "ten"]):
            sheet.append(row)
    path = tmp_path / "book.xlsx"
    book.save(path)
    assert "5 rows: 2 counted, 0 held, 0 duplicates, 3 rejected." in run(path.read_bytes(), name="book.xlsx")
    rows = list(csv.reader((tmp_path / "book.rejects.csv").read_text().splitlines()))
    assert [row[0] for row in rows] == ["line", "Info!1", "T-01!3", "T 2!3"]


def test_rows_in_another_unit_are_rejected_with_it(farm, machines, run, tmp_path):
    rows = "machine,date,meter,unit\nT-01,2026-01-05,10,h\nT-01,2026-01-06,15,km\nT-02,2026-01-05,400,Std.\n"
    assert "3 rows: 2 counted, 0 held, 0 duplicates, 1 rejected." in run(rows)
    with (tmp_path / "hours.rejects.csv").open(encoding="utf-8-sig") as file:
        _heading, (_line, reason, *_cells) = csv.reader(file)
    assert reason == "Its figure is in km, not in hours."
    with farm.scope():
        assert Machine.objects.get(tag="T-01").hours == 10
