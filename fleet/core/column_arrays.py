"""Many rows at once, as columns of numbers: no object is made for a row or a value.

PostgreSQL sends each column as one array in its binary form and takes rows in the binary format of COPY (its
documentation, "Binary Format"); both lie in memory as numpy's records. Elsewhere rows are Python's numbers.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
from django.core.exceptions import EmptyResultSet
from django.db import connections
from django.db.models import Expression, FloatField, Func, QuerySet
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HEAD = b"PGCOPY\n\xff\r\n\0" + bytes(8)  # signature, no flags, no extension
END = b"\xff\xff"


class Days(Func):
    """A moment or a day as days since 1970, in fractions."""

    output_field = FloatField()

    def as_postgresql(self, compiler: Any, connection: Any, **context: Any) -> Any:
        """Seconds of the epoch, as a double."""
        template = "(EXTRACT(EPOCH FROM %(expressions)s)::float8 / 86400.0)"
        return self.as_sql(compiler, connection, template=template, **context)

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> Any:
        """The Julian day, exact to a tenth of a millisecond; 1970 began at 2440587.5 (Meeus 1998, ch. 7)."""
        return self.as_sql(
            compiler, connection, template="(julianday(%(expressions)s) - 2440587.5)", **context
        )


def read(rows: QuerySet, **columns: str | Expression) -> dict[str, Floats]:
    """Return columns of a query as arrays of doubles, NaN for null; whole numbers are exact up to 2^53.

    columns: for each name a field or an expression whose values are numbers. The order of the rows is the
    query's.
    """
    database = rows.db
    named = {f"column_{name}": value for name, value in columns.items() if not isinstance(value, str)}
    asked = [f"column_{name}" if f"column_{name}" in named else columns[name] for name in columns]
    query = rows.annotate(**named).values_list(*asked)
    connection = connections[database]
    if connection.vendor != "postgresql":
        table = np.array(list(query), dtype=float).reshape(-1, len(columns))
        return {name: np.ascontiguousarray(table[:, at]) for at, name in enumerate(columns)}
    try:
        sql, params = query.query.sql_with_params()
    except EmptyResultSet:  # Django sees that nothing can match, and asks nothing
        return {name: np.zeros(0) for name in columns}
    names = [f"c{at}" for at in range(len(columns))]
    arrays = ", ".join(f"array_send(array_agg(COALESCE({name}::float8, 'NaN')))" for name in names)
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {arrays} FROM ({sql}) AS q ({', '.join(names)})", params)
        sent = cursor.fetchone()
    return {name: _values(bytes(data or b"")) for name, data in zip(columns, sent, strict=True)}


def stage(name: str, columns: Mapping[str, Floats], *, using: str) -> None:
    """Put columns into a temporary table of doubles, NaN for null, which ends with the transaction.

    PostgreSQL alone; call it in a transaction.
    """
    length = len(next(iter(columns.values())))
    table = np.zeros(length, _record(len(columns)))
    table["fields"] = len(columns)
    for at, values in enumerate(columns.values()):
        table[f"l{at}"], table[f"v{at}"] = 8, values
    with connections[using].cursor() as cursor:
        cursor.execute(f"DROP TABLE IF EXISTS {name}")
        fields = ", ".join(f"{column} float8" for column in columns)
        cursor.execute(f"CREATE TEMPORARY TABLE {name} ({fields}) ON COMMIT DROP")
        with cursor.copy(f"COPY {name} FROM STDIN (FORMAT BINARY)") as copied:
            copied.write(HEAD + table.tobytes() + END)
        cursor.execute(f"ANALYZE {name}")


def _record(columns: int) -> np.dtype:
    values = [(part + str(at), kind) for at in range(columns) for part, kind in (("l", ">i4"), ("v", ">f8"))]
    return np.dtype([("fields", ">i2"), *values])


def _values(sent: bytes) -> Floats:
    """The doubles of an array in PostgreSQL's binary form: five words of head, then each after its length."""
    return np.frombuffer(sent[20:], np.dtype([("length", ">i4"), ("value", ">f8")]))["value"].astype(float)
