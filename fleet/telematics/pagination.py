"""From page to page of a snapshot by its links, as the standard has it; pages are never counted up."""

from urllib.parse import urldefrag, urljoin

from django.utils.translation import gettext as _

from fleet.telematics.fetch import Getter
from fleet.telematics.limits import Limits
from fleet.telematics.snapshot import SentPage, SentUnit, SnapshotRefused
from fleet.usage.figures import how_many


def walk(getter: Getter, url: str, *, limits: Limits) -> tuple[list[SentUnit], int]:
    """Return the entries of all pages, and how many pages there were. Raises SnapshotRefused.

    Also where a page speaks of more and gives no address to follow: what was read is then not the fleet. A
    page that names itself both as next and as last is the last one; some servers write so. So is the one
    before an answer of 204, no content (RFC 9110, 15.3.5).
    """
    units: list[SentUnit] = []
    seen: set[str] = set()
    others: dict[str, int] = {}  # further addresses that pages called the next one, by the page
    page: SentPage | None = None
    links: dict[str, str] = {}
    for page_number in range(1, limits.pages + 1):
        seen.add(url)
        before = page
        page, came_from = getter.get(url, room=limits.units - len(units), later=page_number > 1)
        seen.add(came_from)
        if page.nothing and before is not None:  # then what the page before it said of more still holds
            links = {rel: href for rel, href in links.items() if rel != "next"}
            if more := _more(before, links, seen, pages=page_number - 1, units=len(units)):
                raise SnapshotRefused(_said_more(page_number - 1, more))
            _check_all_read(others, seen)
            return units, page_number - 1
        units += page.units
        for href in page.other_pages:
            others.setdefault(urldefrag(urljoin(came_from, href)).url, page_number)
        links = {rel: urldefrag(urljoin(came_from, href)).url for rel, href in page.links.items() if href}
        following = links.get("next")
        if following is not None and following in seen:
            if following in (url, came_from) and (
                links.get("last") == following or _was_last(page, page_number)
            ):
                following = None
            else:
                said = _(
                    "Page {page} names a page that was read before as the next one; the snapshot has no end."
                )
                raise SnapshotRefused(said.format(page=page_number))
        if following is None:
            if more := _more(page, links, seen, pages=page_number, units=len(units)):
                raise SnapshotRefused(_said_more(page_number, more))
            _check_all_read(others, seen)
            return units, page_number
        url = following
    said = _("The snapshot has more than {most} pages.").format(most=how_many(limits.pages))
    raise SnapshotRefused(said)


def _check_all_read(others: dict[str, int], seen: set[str]) -> None:
    """Raise where a page named two next pages of which one alone was read."""
    for address, page in others.items():
        if address not in seen:
            raise SnapshotRefused(_said_more(page, _("also next: {address}").format(address=address[:200])))


def _said_more(page: int, more: str) -> str:
    said = _(
        "Page {page} speaks of more ({more}), but gives no address of a next page that we can "
        "follow. Nothing was taken, for it would be a part of the fleet alone."
    )
    return said.format(page=page, more=more)


def _was_last(page: SentPage, number: int) -> bool:
    """Whether it says itself that it is the last of as many pages as were read."""
    return page.pages == number > 1


def _more(page: SentPage, links: dict[str, str], seen: set[str], *, pages: int, units: int) -> str:
    """What speaks of pages beyond this one, as sent; '' where nothing does."""
    if page.strange_links:
        return _("links in a form that can't be read")
    if page.more:
        return page.more[0]
    if page.pages > pages:
        return _("{n} pages").format(n=how_many(page.pages))
    if page.all_units > units:
        return _("{n} units").format(n=how_many(page.all_units))
    last = links.get("last")
    if last is not None and last not in seen and last != links.get("self"):
        return _("last page: {address}").format(address=last[:200])
    return ""
