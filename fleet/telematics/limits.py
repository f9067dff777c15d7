"""How much of a source is listened to. Beyond any of these its snapshot is refused as a whole."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Limits:
    """Sizes in bytes, times in seconds. The standard's default is 100 units a page (see README.md)."""

    page_bytes: int = 32 * 1024**2
    json_bytes: int = 8 * 1024**2  # a page of JSON is read whole
    json_values: int = 300_000  # of such a page: members, entries, objects and lists
    all_bytes: int = 512 * 1024**2
    pages: int = 1000
    units: int = 100_000
    redirects: int = 5
    quiet: float = 30.0  # without a byte
    seconds: float = 300.0  # for the whole snapshot
    token_bytes: int = 256 * 1024  # one tag or comment
    depth: int = 20  # elements inside elements
    text: int = 2000  # characters of one element


USUAL = Limits()
MEGABYTE = 1024**2
