"""German."""

from config.formats.as_written import AsWritten

DATE_FORMAT = SHORT_DATE_FORMAT = AsWritten("j. M Y")
DATETIME_FORMAT = SHORT_DATETIME_FORMAT = AsWritten("j. M Y", ", H:i")
DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = ""
NUMBER_GROUPING = 0
