"""Reading a moment: the one home of ISO 8601, and of what the clocks of a zone show."""

from datetime import UTC, datetime, tzinfo


def read_iso(text: str) -> datetime | None:
    """Return what a text in ISO 8601 says, without a zone where it names none; None where it isn't one.

    A day alone is its midnight.
    """
    try:
        return datetime.fromisoformat(text.strip())
    except ValueError:
        return None


def on_the_clocks(wall: datetime, zone: tzinfo) -> datetime | None:
    """Return the moment at which the clocks of a zone show `wall`, the first one where they show it twice.

    None for a time they leap over.
    """
    moment = wall.replace(tzinfo=zone)
    try:
        shown = moment.astimezone(UTC).astimezone(zone)
    except OverflowError:  # at either end of what a calendar holds no clock is ever moved
        return moment
    return moment if shown.replace(tzinfo=None) == wall else None
