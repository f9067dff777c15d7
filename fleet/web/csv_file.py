"""A table sent as a CSV file to keep."""

from collections.abc import Iterable

from django.http import HttpResponse

from fleet.core.csv_writer import lines


def csv_file(rows: Iterable[Iterable[object]], name: str) -> HttpResponse:
    """Return the answer that a browser keeps under this name; text in it is guarded against formulas."""
    response = HttpResponse("".join(lines(rows)), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
