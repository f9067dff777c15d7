"""Small files that would fill the memory or take hours: each is refused in one sentence while it is read.

The limits are fleet.imports.limits. Each attack runs in a process of its own, where memory and processor time
are measured; times are of the processor, so that a busy machine fails no test.
"""

import io
import struct
import zipfile

import pytest

from fleet.imports.limits import MEGABYTE, MOST_BYTES, MOST_CELLS, MOST_PARTS
from tests.fleet.imports.measured import measured

pytestmark = pytest.mark.security

MOST_MEMORY, MOST_TIME = 100 * MEGABYTE, 12.0
MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
ROW = '<row r="1"><c r="A1" t="inlineStr"><is><t>machine</t></is></c></row>'
BOMB = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'


def sheet(inside=ROW):
    return f"<worksheet {MAIN}><sheetData>{inside}</sheetData></worksheet>"


PLAIN = sheet()


def workbook(sheets=(PLAIN,), texts=None, styles=None, main=None, more=(), packed=zipfile.ZIP_DEFLATED):
    """A workbook written by hand, as small as can be."""
    numbers = range(1, len(sheets) + 1)
    named = "".join(f'<sheet name="S{n}" sheetId="{n}" r:id="r{n}"/>' for n in numbers)
    leads = "".join(
        f'<Relationship Id="r{n}" Type="{OFFICE}/worksheet" Target="worksheets/sheet{n}.xml"/>'
        for n in numbers
    )
    leads += f'<Relationship Id="t" Type="{OFFICE}/sharedStrings" Target="sharedStrings.xml"/>'
    leads += f'<Relationship Id="s" Type="{OFFICE}/styles" Target="styles.xml"/>'
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", packed) as book:
        book.writestr(
            "_rels/.rels",
            f'<Relationships xmlns="{RELATIONS}"><Relationship Id="m" Type="{OFFICE}/officeDocument" '
            'Target="xl/workbook.xml"/></Relationships>',
        )
        usual = f'<workbook {MAIN} xmlns:r="{OFFICE}"><sheets>{named}</sheets></workbook>'
        book.writestr("xl/workbook.xml", main or usual)
        book.writestr(
            "xl/_rels/workbook.xml.rels", f'<Relationships xmlns="{RELATIONS}">{leads}</Relationships>'
        )
        for number, text in zip(numbers, sheets, strict=True):
            book.writestr(f"xl/worksheets/sheet{number}.xml", text)
        for name, text in (("sharedStrings", texts), ("styles", styles)):
            if text:
                book.writestr(f"xl/{name}.xml", text)
        for name, text in more:
            book.writestr(name, text)
    return file.getvalue()


def loose(piece, times):
    """A piece many times over, with something else between now and then, so that it isn't packed tightly."""
    every = 1000 // len(piece)
    return "".join(
        f"<!--{number * 2654435761 % 2**64:x}-->{piece * every}" for number in range(times // every)
    )


def overlapping():
    """A list of parts that all are the same bytes of the file."""
    whole = io.BytesIO(workbook(more=[("filler", bytes(range(256)) * 4000)], packed=zipfile.ZIP_STORED))
    with zipfile.ZipFile(whole, "a") as book:
        (part,) = (each for each in book.infolist() if each.filename == "filler")
        for number in range(400):
            same = zipfile.ZipInfo(f"filler{number}")
            same.header_offset, same.CRC = part.header_offset, part.CRC
            same.file_size = same.compress_size = part.file_size
            book.filelist.append(same)
        book._didModify = True
    return whole.getvalue()


def long_list():
    """19 MB of a ZIP's list of parts, with an end that says there are few."""
    entry = struct.pack(
        "<4s4B4HL2L5H2L", b"PK\x01\x02", 20, 3, 20, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0
    )
    data = entry + b"a"
    times = 19 * MEGABYTE // len(data)
    end = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 5, 5, times * len(data), 4, 0)
    return b"PK\x03\x04" + data * times + end


BOOKS = {
    "a row numbered 900,000,000": (
        lambda: workbook([sheet('<row r="900000000"><c r="A900000000"><v>1</v></c></row>')]),
        "has a row numbered 900,000,000; a sheet has at most 1,048,576 rows",
    ),
    "a row numbered with a thousand digits": (
        lambda: workbook(
            [sheet(f'<row r="{"9" * 1000}"><c><v>1</v></c></row><row r="x"><c><v>1</v></c></row>')]
        ),
        2,
    ),
    "the last row there can be": (
        lambda: workbook([sheet(f'{ROW}<row r="1048576"><c r="A1048576"><v>1</v></c></row>')]),
        2,
    ),
    "something in column XFD": (
        lambda: workbook([sheet('<row r="1"><c r="XFD1"><v>1</v></c></row>')]),
        "something in column 16,384 of row 1; at most 100 columns are read",
    ),
    "a column beyond the last": (
        lambda: workbook([sheet('<row r="1"><c r="ZZZ1"><v>1</v></c></row>')]),
        "can't be read as a workbook",
    ),
    "a place that is none": (
        lambda: workbook([sheet('<row r="1"><c r="-1A"><v>1</v></c></row>')]),
        "can't be read as a workbook",
    ),
    "rows backwards": (
        lambda: workbook([sheet('<row r="2"><c><v>1</v></c></row><row r="1"><c><v>1</v></c></row>')]),
        "can't be read as a workbook",
    ),
    "one row of millions of cells": (
        lambda: workbook([sheet(f"<row>{loose('<c/>', 5_000_000)}</row>")]),
        f"more than {MOST_CELLS:,} cells",
    ),
    "millions of empty rows": (
        lambda: workbook([sheet(loose("<row/>", 5_000_000))]),
        "more than 400,000 lines, most of them blank",
    ),
    "a cell of fifty million characters": (
        lambda: workbook(
            [sheet(f'{ROW}<row r="2"><c t="str"><v>{loose("x", 50_000_000)}</v></c></row>')],
        ),
        "a cell of more than 32,767 characters in row 2",
    ),
    "a tag without an end": (
        lambda: workbook([sheet("<row " + "".join(f'a{n}="{n * n}" ' for n in range(200_000)))]),
        "can't be read as a workbook",
    ),
    "elements inside elements": (
        lambda: workbook([sheet("<x>" * 100_000)]),
        "can't be read as a workbook",
    ),
    "entities in a sheet": (lambda: workbook([f"{BOMB}<x>&b;</x>"]), "definitions that no workbook needs"),
    "entities in its texts": (
        lambda: workbook(texts=f"{BOMB}<sst>&b;</sst>"),
        "definitions that no workbook needs",
    ),
    "entities in its looks": (
        lambda: workbook(styles=f"{BOMB}<x>&b;</x>"),
        "definitions that no workbook needs",
    ),
    "entities in the workbook": (
        lambda: workbook(main=f"{BOMB}<x>&b;</x>"),
        "definitions that no workbook needs",
    ),
    "millions of texts": (
        lambda: workbook(texts=f"<sst {MAIN}>{loose('<si/>', 6_000_000)}</sst>"),
        "more than 400,000 different texts",
    ),
    "a text that is not there": (
        lambda: workbook([sheet('<row r="1"><c t="s"><v>99999999999999999999</v></c></row>')]),
        "can't be read as a workbook",
    ),
    "millions of looks": (
        lambda: workbook(styles=f"<x {MAIN}><cellXfs>{loose('<xf/>', 5_000_000)}</cellXfs></x>"),
        "more than 65,500 cell formats",
    ),
    "thousands of sheets": (
        lambda: workbook(main=f"<workbook {MAIN}><sheets>{loose('<sheet/>', 3_000_000)}</sheets></workbook>"),
        "more than 1,000 sheets",
    ),
    "the same sheet a thousand times": (
        lambda: workbook(
            [sheet(loose("<row/>", 900_000))],
            main=f'<workbook {MAIN} xmlns:r="{OFFICE}"><sheets>'
            + "".join(f'<sheet name="{n}" r:id="r1"/>' for n in range(999))
            + "</sheets></workbook>",
        ),
        "more than 400,000 lines, most of them blank",
    ),
    "a number of a million digits": (
        lambda: workbook([sheet(f'{ROW}<row r="2"><c><v>{"7" * 30_000}</v></c></row>')]),
        "can't be read as a workbook",
    ),
    "numbers beyond all bounds": (
        lambda: workbook(
            [sheet(f"{ROW}<row><c><v>1E999999</v></c><c><v>-inf</v></c><c><v>nan</v></c></row>")]
        ),
        2,
    ),
    "a part packed a thousandfold": (
        lambda: workbook(more=[("xl/x.xml", b" " * 50 * MEGABYTE)]),
        "compressed far more than a workbook",
    ),
    "parts that lie over each other": (overlapping, "unpacks to more than 300 MB"),
    "too many parts": (
        lambda: workbook(more=[(f"part{n}", b"x") for n in range(MOST_PARTS)]),
        f"more than {MOST_PARTS:,} parts",
    ),
    "a list of parts as long as the file": (long_list, f"more than {MOST_PARTS:,} parts"),
    "half a file": (lambda: workbook()[:-30], "can't be read as a workbook"),
}
TEXTS = {
    "one line without an end": (
        lambda: b"x" * MOST_BYTES,
        "a row of more than 250,000 characters from line 1 on",
    ),
    "a million columns": (
        lambda: b"machine,date,hours\n" + b"," * 1_000_000,
        "a row of more than 250,000 characters from line 2 on",
    ),
    "more columns than are read": (
        lambda: b"machine,date,hours\n" + b"T-1" + b",x" * 100 + b"\n",
        "more than 100 columns in line 2",
    ),
    "a quotation mark that is never closed": (
        lambda: b'machine,date,hours\n"T-1' + b",1,2\n" * 3_000_000,
        "missing closing quotation mark",
    ),
    "a row over millions of lines": (
        lambda: b'machine,date,hours\n"' + b'\n","' * 4_000_000,
        "missing closing quotation mark",
    ),
    "a null byte further in": (
        lambda: b"machine,date,hours\n" + b"T-1,2026-01-01,5\n" * 10_000 + b"T-\0,2026-01-01,5\n",
        "not valid CSV from line 10,002 on: it holds a null byte",
    ),
    "nothing but line breaks": (
        lambda: b"machine\n" + b"\n" * (MOST_BYTES - 8),
        "more than 400,000 lines, most of them blank",
    ),
    "only separators, thirty lines": (
        lambda: (b"," * 200_000 + b"\n") * 50,
        "has no rows",
    ),
}


@pytest.mark.parametrize(("make", "said"), [*BOOKS.values(), *TEXTS.values()], ids=[*BOOKS, *TEXTS])
def test_it_is_refused_while_it_is_read(make, said, tmp_path):
    data = make()
    assert len(data) <= MOST_BYTES
    found = measured(data, tmp_path)
    if isinstance(said, int):
        assert found.said == said
    else:
        assert said in found.said
        assert found.said.startswith("hours ")
        assert "\n" not in found.said
    assert found.memory < MOST_MEMORY
    assert found.seconds < MOST_TIME
