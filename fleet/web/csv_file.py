"""A table sent as a CSV file to keep."""

from collections.abc import Iterable

from django.http import HttpResponse

from fleet.core.csv_writer import as_file
from fleet.usage.figures import writing


def csv_file(rows: Iterable[Iterable[object]], name: str) -> HttpResponse:
    """Return the answer that a browser keeps under this name, with the separators of who asks.

    Text in it is guarded against formulas.
    """
    table = b"".join(as_file(rows, decimal_mark=writing().decimal_mark))
    response = HttpResponse(table, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
