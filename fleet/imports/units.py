"""A column that says of each row in which unit its figure is: hours in some rows, kilometres in others."""

from collections.abc import Sequence

from fleet.imports.columns import Column
from fleet.imports.headings import normal
from fleet.imports.table import Cell, as_text

HOURS_WORDS = (
    "h, hr, hrs, hour, hours, std, stunde, stunden, bh, betriebsstunden, motorstunden, heure, heures, hora, "
    "horas, ora, ore, uur, uren, draaiuren"
)
OTHER_WORDS = (
    "km, kms, kilometer, kilometre, kilometres, kilometers, kilometri, kilometros, mi, mile, miles, l, ltr, "
    "liter, litre, litres, liters, litri, litros, ha, acre, acres, hektar, hectare, hectares, ettari, "
    "hectareas, kg, t, kwh, cycles"
)
HOURS, OTHERS = frozenset(HOURS_WORDS.split(", ")), frozenset(OTHER_WORDS.split(", "))


def unit_column(found: Sequence[Column]) -> int | None:
    """The column of which every filled cell is a unit; None where there is none, or several."""
    places = [
        column.place
        for column in found
        if column.cells and column.share(lambda cell: normal(as_text(cell)) in HOURS | OTHERS) == 1
    ]
    return places[0] if len(places) == 1 else None


def is_other(cell: Cell) -> bool:
    """Whether a cell of it says another unit than hours; what is no unit at all is none of ours either."""
    said = normal(as_text(cell))
    return bool(said) and said not in HOURS
