"""Tables in files of every common kind; and files that are none, or mean harm, refused in one sentence."""

import io
import zipfile
from datetime import datetime

import pytest
from openpyxl import Workbook

from fleet.core.errors import FleetError
from fleet.imports.table import as_text, open_table

PLAIN = [["machine", "date", "hours"], ["T-01", "2026-01-05", "10.5"], ["T-Ä", "2026-01-12", "31"]]


@pytest.fixture
def table(tmp_path):
    """Open bytes as a file of that name."""

    def table(data, name="hours.csv"):
        path = tmp_path / "kept"
        path.write_bytes(data)
        return open_table(path, name)

    return table


def written(separator, encoding):
    return "\r\n".join(separator.join(row) for row in PLAIN).encode(encoding)


def workbook(rows, change=None):
    book = Workbook()
    for row in rows:
        book.active.append(row)
    if change:
        change(book)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_csv_of_every_kind(table, separator, encoding):
    found = table(written(separator, encoding))
    assert [row.cells for row in found.rows()] == PLAIN
    assert [row.line for row in found.rows()] == [1, 2, 3]


def test_a_decimal_comma_does_not_hide_the_semicolon(table):
    found = table(b"machine;date;hours\nT-01;05.01.2026;10,5\nT-02;06.01.2026;11,5\n")
    assert [row.cells for row in found.rows()][1] == ["T-01", "05.01.2026", "10,5"]
    assert str(found.look) == "UTF-8, separated by semicolons"


def test_quotes_blank_lines_and_a_hint_at_the_separator(table):
    found = table(b'sep=;\r\nmachine;note\r\n\r\nT-01;"a;b\r\nc"\r\n;;\r\n')
    assert [(row.line, row.cells) for row in found.rows()] == [
        (2, ["machine", "note"]),
        (5, ["T-01", "a;b\r\nc"]),
    ]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize(
    ("hint", "separator"),
    [
        ("sep=|", "|"),
        ("SEP=|", "|"),
        ("sep=||", "|"),
        ("sep=\t", "\t"),
        ("sep=,", ","),
        ("sep=;;", ";"),
        ("sep=", ","),
        ("sep= ", ";"),
    ],
)
def test_a_first_line_may_name_the_separator(table, hint, separator, encoding):
    found = table(f"{hint}\r\n{written(separator, 'utf-8').decode()}".encode(encoding))
    assert [(row.line, row.cells) for row in found.rows()] == list(enumerate(PLAIN, start=2))
    assert str(found.look).endswith(
        {"|": "vertical bars", "\t": "tabs", ",": "commas", ";": "semicolons"}[separator]
    )


@pytest.mark.parametrize("said", ["a", '"', "^", ";,", "semicolon", "\N{SNOWMAN}"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_first_line_that_names_no_separator_is_told(table, said, encoding):
    with pytest.raises(FleetError) as error:
        table(f"sep={said}\nmachine{said}hours\nT-01{said}5\n".encode(encoding))
    assert error.value.sentence == (
        f"hours.csv says in its first line that its cells are separated by “{said}”. Save it separated by "
        "commas, semicolons, tabs or vertical bars."
    )


def test_what_a_first_line_holds_is_told_in_short_and_can_be_kept(table):
    with pytest.raises(FleetError, match=r"separated by “\ufffda{19}”"):
        table(f"sep=\0{'a' * 5000}\nmachine\n".encode("utf-16"))


def test_the_first_sheet_with_rows_of_a_workbook(table):
    rows = [
        ["machine", "date", "hours"],
        ["T-01", datetime(2026, 1, 5, 7, 30), 10.5],  # noqa: DTZ001 - a sheet's cells have no zone
        [None] * 3,
        [7, None, 1],
    ]
    found = table(workbook(rows, lambda book: book.create_sheet("Empty", 0)), "hours.xlsx")
    assert (found.kind, found.sheet) == ("XLSX", "Sheet")
    read = list(found.rows())
    assert [row.line for row in read] == [1, 2, 4]
    assert [as_text(cell) for cell in read[1].cells] == ["T-01", "2026-01-05 07:30:00", "10.5"]
    assert [as_text(cell) for cell in read[2].cells] == ["7", "", "1"]


def parts(**more):
    """A workbook's parts with some put in the place of its own."""
    whole = zipfile.ZipFile(io.BytesIO(workbook(PLAIN)))
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as book:
        for name in whole.namelist():
            key = name.rsplit("/", 1)[-1].removesuffix(".xml")
            book.writestr(name, more.pop(key, None) or whole.read(name))
        for name, data in more.items():
            book.writestr(f"xl/{name}.xml", data)
    return file.getvalue()


ENTITIES = (
    b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;">]><sst>&b;</sst>'
)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "is empty"),
        (b" \r\n \r\n", "is empty"),
        (b"\x89PNG\r\n\x1a\n\0\0", "neither a CSV nor an XLSX file"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old kind of workbook"),
        (b"PK\x03\x04 and no more", "can't be read as a workbook"),
        (workbook(PLAIN)[:-300], "can't be read as a workbook"),
        (parts(sheet1=ENTITIES), "definitions that no workbook needs"),
        (parts(sheet1=b"<worksheet><sheetData><row>"), "can't be read as a workbook"),
        (parts(filler=b" " * 2_000_000), "compressed far more"),
        (parts(**{f"part{n}": b"x" for n in range(1001)}), "more than 1,000 parts"),
        (workbook([]), "has no rows"),
        (b'a,"' + b"x" * 200_000, "more than 131,072 characters from line 1 on"),
    ],
)
def test_what_cannot_be_read_is_one_sentence(table, data, said):
    with pytest.raises(FleetError, match=said) as error:
        list(table(data, "hours").rows())
    assert error.value.sentence.startswith("hours ")
    assert "\n" not in error.value.sentence


def test_too_large_and_too_many(table, monkeypatch):
    monkeypatch.setattr("fleet.imports.table.MOST_BYTES", 20)
    with pytest.raises(FleetError, match="MB are read"):
        table(written(",", "utf-8"))
    monkeypatch.undo()
    monkeypatch.setattr("fleet.imports.table.MOST_ROWS", 1)
    with pytest.raises(FleetError, match="more than 1 rows; send it in parts"):
        list(table(written(",", "utf-8")).rows())
    monkeypatch.setattr("fleet.imports.table.MOST_SHEET_ROWS", 1)
    with pytest.raises(FleetError, match="or save it as CSV"):
        list(table(workbook(PLAIN)).rows())


def test_a_sheet_that_lies_about_its_size_is_not_believed(table):
    sheet = (
        b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
        b'<dimension ref="A1:XFD1048576"/><sheetData><row r="1">'
        b'<c r="A1" t="inlineStr"><is><t>machine</t></is></c>'
        b'<c r="XFD1" s="0"/></row></sheetData></worksheet>'
    )
    (row,) = table(parts(sheet1=sheet), "hours.xlsx").rows()
    assert row.cells == ["machine"]
