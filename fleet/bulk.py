"""Many new rows at once."""

from collections.abc import Sequence
from operator import attrgetter

from django.db import connections, models, router

FEW = 8  # rows up to which one INSERT is quicker than COPY with its round trips


def insert(rows: Sequence[models.Model]) -> None:
    """Write new rows of one model and give each its id: by COPY on PostgreSQL, else by INSERT.

    COPY takes the values as they are, so set them as the column keeps them (a Decimal for a Decimal), and
    spares Django preparing and PostgreSQL planning each of them. The rows' own ids must not be set.
    Raises IntegrityError.
    """
    if not rows:
        return
    model = type(rows[0])
    connection = connections[router.db_for_write(model)]
    if connection.vendor == "postgresql" and len(rows) > FEW:
        _copy(rows, model, connection)
    else:
        model._base_manager.bulk_create(rows)


def _copy(rows: Sequence[models.Model], model: type[models.Model], connection: object) -> None:
    meta, quote = model._meta, connection.ops.quote_name
    columns = ", ".join(quote(field.column) for field in meta.concrete_fields)
    values = attrgetter(*(field.attname for field in meta.concrete_fields))
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT nextval(pg_get_serial_sequence(%s, %s)) FROM generate_series(1, %s)",
            [quote(meta.db_table), meta.pk.column, len(rows)],
        )
        for row, (pk,) in zip(rows, cursor.fetchall(), strict=True):
            row.pk = pk
        into = f"COPY {quote(meta.db_table)} ({columns}) FROM STDIN"
        with connection.wrap_database_errors, cursor.cursor.copy(into) as copy:
            for row in rows:
                copy.write_row(values(row))
    for row in rows:
        row._state.adding, row._state.db = False, connection.alias
