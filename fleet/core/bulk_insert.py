"""Many new rows at once."""

from collections.abc import Sequence
from typing import Any, cast

from django.db import connections, models, router

FEW = 8  # rows up to which one INSERT is quicker than COPY with its round trips


def insert(model: type[models.Model], columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> list[int]:
    """Write new rows of a model and return their ids, in order.

    columns: the attributes that `rows` give values for, as the columns keep them (a Decimal for a Decimal);
    the others must be null. PostgreSQL takes them as they are, many by COPY, which spares Django preparing
    each; elsewhere they are made and written as instances. Raises IntegrityError.
    """
    if not rows:
        return []
    connection = connections[router.db_for_write(model)]
    if connection.vendor != "postgresql":
        made = [model(**dict(zip(columns, row, strict=True))) for row in rows]
        return [each.pk for each in model._base_manager.bulk_create(made)]
    write = _insert if len(rows) <= FEW else _copy
    fields = cast("list[models.Field[Any, Any]]", [model._meta.pk, *map(model._meta.get_field, columns)])
    quoted = [connection.ops.quote_name(str(field.column)) for field in fields]
    return write(connection.ops.quote_name(model._meta.db_table), quoted, rows, connection)


def _insert(table: str, names: list[str], rows: Sequence[Sequence[Any]], connection: Any) -> list[int]:
    row = f"({', '.join(['%s'] * (len(names) - 1))})"
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {table} ({', '.join(names[1:])}) VALUES {', '.join([row] * len(rows))}"
            f" RETURNING {names[0]}",
            [value for row in rows for value in row],
        )
        return [pk for (pk,) in cursor.fetchall()]


def _copy(table: str, names: list[str], rows: Sequence[Sequence[Any]], connection: Any) -> list[int]:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT nextval(pg_get_serial_sequence(%s, %s)) FROM generate_series(1, %s)",
            [table, names[0].strip('"'), len(rows)],
        )
        ids = [pk for (pk,) in cursor.fetchall()]
        into = f"COPY {table} ({', '.join(names)}) FROM STDIN"
        with connection.wrap_database_errors, cursor.cursor.copy(into) as copy:
            for pk, row in zip(ids, rows, strict=True):
                copy.write_row((pk, *row))
    return ids
