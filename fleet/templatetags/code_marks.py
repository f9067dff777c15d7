"""What stands between backticks, as code."""

from django import template

register = template.Library()


@register.inclusion_tag("fleet/parts/said.html")
def said(text: str) -> dict[str, object]:
    """Show a text of the OpenAPI document, which is English, with its `parts in backticks` as code."""
    return {"parts": _parts(text), "english": True}


@register.inclusion_tag("fleet/parts/said.html")
def coded(text: str) -> dict[str, object]:
    """Show a text in the reader's language in the same way."""
    return {"parts": _parts(text), "english": False}


def _parts(text: str) -> list[tuple[str, bool]]:
    return [(part, number % 2 == 1) for number, part in enumerate(text.split("`"))]
