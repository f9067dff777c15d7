"""Lookups of our own."""

from typing import Any

from django.core.exceptions import EmptyResultSet
from django.db import models


def array(values: list[Any]) -> Any:
    """A list as PostgreSQL takes an array; whole numbers are written out, the quicker way."""
    whole = bool(values) and isinstance(values[0], int)
    return "{" + ",".join(map(str, values)) + "}" if whole else values


@models.ForeignObject.register_lookup
@models.Field.register_lookup
class Among(models.Lookup):
    """`pk__among=ids`: as `in`, but on PostgreSQL with one array instead of a parameter for each value."""

    lookup_name = "among"
    prepare_rhs = False

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, Any]:
        """Elsewhere it is an ordinary `in`."""
        return compiler.compile(self.lhs.get_lookup("in")(self.lhs, list(self.rhs)))

    def as_postgresql(self, compiler: Any, connection: Any) -> tuple[str, Any]:
        """One array."""
        left, params = self.process_lhs(compiler, connection)
        if hasattr(self.rhs, "resolve_expression"):  # the values are given later
            right, given = self.process_rhs(compiler, connection)
            return f"{left} = ANY({right}::{self._array_type()})", [*params, *given]
        values = list(self.rhs)
        if not values:
            raise EmptyResultSet
        return f"{left} = ANY(%s::{self._array_type()})", [*params, array(values)]

    def _array_type(self) -> str:
        kind = self.lhs.output_field
        while kind.is_relation:
            kind = kind.target_field
        return "bigint[]" if isinstance(kind, models.IntegerField) else "text[]"
