"""Who may do what. A role is a fixed set of rights; pages and the API ask for a right, never for a role."""

from dataclasses import dataclass, fields


@dataclass(frozen=True)
class Rights:
    """What one member may do. Every member may look at machines and enter hours."""

    manage_people: bool = False
    manage_fleet: bool = False
    decide_readings: bool = False
    plan_orders: bool = False
    work_orders: bool = False
    clear_tag_outs: bool = False
    gate: bool = False
    see_ledger: bool = False

    def held(self) -> list[str]:
        """Return the names of the rights this set holds."""
        return [field.name for field in fields(self) if getattr(self, field.name)]


OWNER, MANAGER, TECHNICIAN, COUNTER = "owner", "manager", "technician", "counter"

RIGHTS: dict[str, Rights] = {
    OWNER: Rights(True, True, True, True, True, True, True, True),
    MANAGER: Rights(
        manage_fleet=True,
        decide_readings=True,
        plan_orders=True,
        work_orders=True,
        clear_tag_outs=True,
        gate=True,
        see_ledger=True,
    ),
    TECHNICIAN: Rights(work_orders=True),
    COUNTER: Rights(decide_readings=True, gate=True),
}
NO_RIGHTS = Rights()
