"""Migrations that give tables and columns other names for people, and touch nothing in the database."""

from typing import Any

from django.db.migrations.operations import SeparateDatabaseAndState


class NamesAlone(SeparateDatabaseAndState):
    """Operations that change how models are described.

    Each would build the models of that time anew, and almost all of them, for they all point to an
    organisation: hundreds of names took over a minute. They are put aside here and built once, when a later
    migration asks for them.
    """

    def __init__(self, state_operations: Any) -> None:
        super().__init__(state_operations=state_operations)

    def state_forwards(self, app_label: str, state: Any) -> None:
        """Change the descriptions."""
        vars(state).pop("apps", None)
        super().state_forwards(app_label, state)
