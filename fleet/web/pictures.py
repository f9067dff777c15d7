"""Drawings of ours on a page: as pictures, in which nothing runs, so no markup need be called safe."""

from base64 import b64encode


def source(svg: str) -> str:
    """Return what an `<img>` names to show this SVG."""
    return f"data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}"
