"""English: as everywhere in the house, not as the framework has it (`3 p.m.`)."""

from config.formats.as_written import AsWritten

DATE_FORMAT = SHORT_DATE_FORMAT = AsWritten("j M Y")
DATETIME_FORMAT = SHORT_DATETIME_FORMAT = AsWritten("j M Y", ", H:i")
TIME_FORMAT = "H:i"
DATE_INPUT_FORMATS = ["%Y-%m-%d", "%d/%m/%Y", "%d/%m/%y"]  # the first one is how a day stands in a box
