"""The page of a maker's table, and what it sends."""

import re


def about(kind, **more):
    return {
        "machine_type": kind.pk,
        "title": "Tractor",
        "source": "Manual 12, second edition",
        "anchor": "marks",
        **more,
    }


def inputs(page):
    """What the table's inputs hold, as a browser would send it back."""
    found = re.findall(r'name="((?:cell|code)-[0-9-]+|rows|columns)" value="([^"]*)"', page.content.decode())
    return dict(found)
