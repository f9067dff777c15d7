"""A small file that a page opens itself, where no worker is needed: a list of a few hundred rows."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from fleet.core.errors import FleetError
from fleet.imports.limits import MEGABYTE
from fleet.imports.table import WORKBOOK, Table, open_table
from fleet.imports.workbook_zip import opened

MOST_BYTES = MEGABYTE
MOST_UNPACKED = 20 * MEGABYTE  # of a workbook's parts: a part never unpacks to more than it says


@contextmanager
def small_table(sent: bytes, name: str, *, too_large: str, too_full: str) -> Iterator[Table]:
    """Open what was sent as a table, a CSV or an XLSX, while it is read.

    too_large, too_full: what is said of a file over 1 MB, and of a workbook that unpacks to over 20 MB.
    Raises FleetError.
    """
    if len(sent) > MOST_BYTES:
        raise FleetError(too_large)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "list"
        path.write_bytes(sent)
        if sent.startswith(WORKBOOK):
            with opened(path, name) as book:
                size = sum(part.file_size for part in book.infolist())
            if size > MOST_UNPACKED:
                raise FleetError(too_full)
        yield open_table(path, name)
