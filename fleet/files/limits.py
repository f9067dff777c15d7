"""How large a file may be. Said on the page, and checked before anything is unpacked."""

MEGABYTE = 1024 * 1024
MOST_BYTES = 20 * MEGABYTE  # of a file as it is sent
MOST_ROWS = 200_000  # of a CSV file
MOST_SHEET_ROWS = 50_000  # of a workbook, which takes ten times as long to read
MOST_COLUMNS = 60
LONGEST_CELL = 2000  # characters; more is cut off

# a workbook is a ZIP of XML parts
MOST_PARTS = 1000
MOST_UNPACKED = 300 * MEGABYTE
MOST_STRINGS = 40 * MEGABYTE  # its shared strings, which are held in memory
MOST_PACKED = 200  # times a part may be larger than what is stored of it, from a megabyte on
