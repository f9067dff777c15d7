"""Queries that are asked too often to be built each time.

Django writes a query's SQL each time it is asked. For the queries of one reading's way in, that
takes several times as long as PostgreSQL takes to answer them.
"""

from collections.abc import Callable, Iterable
from functools import cache, wraps
from typing import Any, cast

from django.db import DEFAULT_DB_ALIAS, connection
from django.db.models import Expression, QuerySet
from django.db.models.sql import UpdateQuery
from django_scopes import scopes_disabled

from fleet.core.lookups import array

Rows = Iterable[tuple[Any, ...]]


class Given(Expression):
    """Stands for a value that is given when the query is asked."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.name = name

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, list[Any]]:  # type: ignore[override]
        """A placeholder, and this in the place of its value."""
        return "%s", [self]


def prepared(build: Callable[..., QuerySet]) -> Callable[..., Rows]:
    """Make a function that asks a query out of one that builds it as `values_list`.

    It takes the values by name, collections as lists, and returns the rows. On PostgreSQL the SQL is written
    once; elsewhere, where lists are written out in it, each time. It is built without any organisation's
    scope, for it serves all of them: what it finds must follow from its values.
    """

    @cache
    def written(names: tuple[str, ...]) -> tuple[str, tuple[Any, ...], dict[int, Any]]:
        compiler = build(**_given(names)).query.get_compiler(DEFAULT_DB_ALIAS)
        sql, params = compiler.as_sql()
        return sql, params, compiler.get_converters(column for column, *_ in compiler.select)

    @wraps(build)
    def ask(**values: Any) -> Rows:
        with scopes_disabled():
            if connection.vendor != "postgresql":
                return list(build(**values))
            sql, params, converters = written(tuple(values))
        with connection.cursor() as cursor:
            cursor.execute(sql, _filled(params, values))
            rows = cursor.fetchall()
        return [_converted(row, converters) for row in rows] if converters else rows

    return ask


def prepared_update(build: Callable[..., tuple[QuerySet, dict[str, Any]]]) -> Callable[..., None]:
    """As `prepared`, of a function that builds a query and the values its rows are set to."""

    @cache
    def written(names: tuple[str, ...]) -> tuple[str, tuple[Any, ...]]:
        rows, changes = build(**_given(names))
        query = cast(UpdateQuery, rows.query.chain(UpdateQuery))
        query.add_update_values(changes)
        return query.get_compiler(DEFAULT_DB_ALIAS).as_sql()

    @wraps(build)
    def carry_out(**values: Any) -> None:
        with scopes_disabled():
            if connection.vendor != "postgresql":
                rows, changes = build(**values)
                rows.update(**changes)
                return
            sql, params = written(tuple(values))
        with connection.cursor() as cursor:
            cursor.execute(sql, _filled(params, values))

    return carry_out


def _given(names: Iterable[str]) -> dict[str, Given]:
    return {name: Given(name) for name in names}


def _filled(params: Iterable[Any], values: dict[str, Any]) -> list[Any]:
    written = {name: array(value) if isinstance(value, list) else value for name, value in values.items()}
    return [written[param.name] if isinstance(param, Given) else param for param in params]


def _converted(row: tuple[Any, ...], converters: dict[int, Any]) -> tuple[Any, ...]:
    values = list(row)
    for place, (convert, column) in converters.items():
        for each in convert:
            values[place] = each(values[place], column, connection)
    return tuple(values)
