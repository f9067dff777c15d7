"""Time zones to choose from."""

from functools import cache
from zoneinfo import available_timezones

REGIONS = (
    "Africa",
    "America",
    "Antarctica",
    "Arctic",
    "Asia",
    "Atlantic",
    "Australia",
    "Europe",
    "Indian",
    "Pacific",
)


@cache
def zone_choices() -> list[tuple[str, list[tuple[str, str]] | str]]:
    """Return the zones by region, as a select shows them; UTC first."""
    places = sorted(name for name in available_timezones() if name.partition("/")[0] in REGIONS)
    groups = [
        (region, [(name, _place(name)) for name in places if name.startswith(f"{region}/")])
        for region in REGIONS
    ]
    return [("UTC", "UTC"), *groups]


def _place(name: str) -> str:
    region, *place = name.replace("_", " ").split("/")
    return f"{', '.join(reversed(place))} ({region})"
