"""Lookups of our own."""

from typing import Any

from django.core.exceptions import EmptyResultSet
from django.db import models


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
        """Numbers are written out here, which is quicker than handing them over one by one."""
        left, params = self.process_lhs(compiler, connection)
        values = list(self.rhs)
        if not values:
            raise EmptyResultSet
        if isinstance(values[0], int):
            return f"{left} = ANY(%s::bigint[])", [*params, "{" + ",".join(map(str, values)) + "}"]
        return f"{left} = ANY(%s::text[])", [*params, values]
