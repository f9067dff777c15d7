"""From page to page of a snapshot by its links, as the standard has it; pages are never counted up."""

from urllib.parse import urldefrag, urljoin

from django.utils.translation import gettext as _

from fleet.telematics.fetch import Getter
from fleet.telematics.limits import Limits
from fleet.telematics.snapshot import SentUnit, SnapshotRefused
from fleet.usage.figures import how_many


def walk(getter: Getter, url: str, *, limits: Limits) -> tuple[list[SentUnit], int]:
    """Return the units of all pages, each unit once, and how many pages there were. Raises SnapshotRefused.

    A machine may move from one page to the next while they are read: of two entries the later hours stand.
    A page that names itself both as next and as last is the last one; some servers write so.
    """
    units: dict[str, SentUnit] = {}
    nameless: list[SentUnit] = []
    seen: set[str] = set()
    count = 0
    for page_number in range(1, limits.pages + 1):
        seen.add(url)
        page, came_from = getter.get(url, room=limits.units - count)
        seen.add(came_from)
        count += len(page.units)
        for unit in page.units:
            if not unit.key:
                nameless.append(unit)
            elif unit.key not in units or _later(unit, units[unit.key]):
                units[unit.key] = unit
        links = {rel: urldefrag(urljoin(came_from, href)).url for rel, href in page.links.items() if href}
        following = links.get("next")
        if following is None:
            return [*units.values(), *nameless], page_number
        if following in seen:
            if following in (url, came_from) and links.get("last") == following:
                return [*units.values(), *nameless], page_number
            said = _(
                "Page {page} names a page that was read before as the next one; the snapshot has no end."
            )
            raise SnapshotRefused(said.format(page=page_number))
        url = following
    said = _("The snapshot has more than {most} pages.").format(most=how_many(limits.pages))
    raise SnapshotRefused(said)


def _later(one: SentUnit, other: SentUnit) -> bool:
    """Whether its hours are not older; times in the standard's form sort as text."""
    return (one.hours.at if one.hours else "") >= (other.hours.at if other.hours else "")
