"""Time zones to choose from."""

from functools import cache
from zoneinfo import available_timezones

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

REGIONS = {
    "Africa": _("Africa"),
    "America": _("America"),
    "Antarctica": _("Antarctica"),
    "Arctic": _("Arctic"),
    "Asia": _("Asia"),
    "Atlantic": pgettext_lazy("ocean", "Atlantic"),
    "Australia": _("Australia"),
    "Europe": _("Europe"),
    "Indian": pgettext_lazy("ocean", "Indian"),
    "Pacific": pgettext_lazy("ocean", "Pacific"),
}


def zone_choices() -> list[tuple[str, list[tuple[str, str]] | str]]:
    """Return the zones by region, as a select shows them; UTC first."""
    groups = [
        (str(said), [(name, _place(name)) for name in _names() if name.startswith(f"{region}/")])
        for region, said in REGIONS.items()
    ]
    return [("UTC", "UTC"), *groups]


@cache
def _names() -> list[str]:
    return sorted(name for name in available_timezones() if name.partition("/")[0] in REGIONS)


def _place(name: str) -> str:
    region, *place = name.replace("_", " ").split("/")
    return f"{', '.join(reversed(place))} ({REGIONS[region]})"
