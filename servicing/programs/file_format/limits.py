"""How much of a program file is read. The longest program at hand has 30 tasks in 53 KB and 4,400 values."""

MOST_BYTES = 256 * 1024
MOST_VALUES = 20_000  # keys and values, those that an alias repeats counted each time
DEEPEST = 12  # lists and rows inside each other; a program needs six
MOST_TASKS = 250
LONGEST_TEXT = 2000  # characters of one text
LONGEST_SCALAR = 4000  # characters as written, of anything
MOST_SECONDS = 60  # of reading a file and keeping its draft
MOST_FAULTS = 50  # said at once
LONGEST_SAID = 60  # characters of a wrong value that are repeated to a person
