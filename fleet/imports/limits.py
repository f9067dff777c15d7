"""How much of a file is read. Said on the page, and held while reading: no file is unpacked to be refused."""

MEGABYTE = 1024 * 1024
MOST_BYTES = 20 * MEGABYTE  # of a file as it is sent
MOST_ROWS = 200_000  # of a CSV file
MOST_SHEET_ROWS = 50_000  # of a workbook, which takes ten times as long to read
MOST_LINES = 400_000  # of any file, blank ones included
MOST_COLUMNS = 100
LONGEST_CELL = 2001  # characters; one more than any field takes
LONGEST_ROW = 250_000  # characters of one row of CSV, its quoted line breaks included
MOST_SECONDS = 30.0  # of reading a file once from its first row to its last

# a workbook is a ZIP of XML parts
MOST_PARTS = 1000
MOST_DIRECTORY = MEGABYTE  # bytes of the ZIP's list of its parts, which is read whole
MOST_UNPACKED = 300 * MEGABYTE
MOST_PACKED = 200  # times a part may be larger than what is stored of it, from a megabyte on
MOST_STRINGS = 40 * MEGABYTE  # its shared strings, which are held in memory
MOST_SHARED = 400_000  # how many of them
MOST_CELLS = 1_000_000  # of its sheets, empty ones that only have a look included
MOST_STYLES = 65_500  # looks of cells; the format's own limit is 65,490
MOST_SHEETS = 1000
LAST_ROW, LAST_COLUMN = 1_048_576, 16_384  # of any sheet (XFD1048576), by the format
LONGEST_TEXT = 32_767  # characters in a cell, by the format
DEEPEST = 20  # elements inside elements
LONGEST_TAG = 256 * 1024  # bytes of one tag or comment


def shortened(text: str) -> str:
    """Return a cell's text; of one that is too long its beginning and an ellipsis, refused by every field."""
    return text if len(text) <= LONGEST_CELL else f"{text[: LONGEST_CELL - 1]}…"
