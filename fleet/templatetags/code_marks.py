"""What stands between backticks, as code."""

from django import template

register = template.Library()


@register.inclusion_tag("fleet/parts/said.html")
def said(text: str) -> dict[str, object]:
    """Show a text with its `parts in backticks` as code."""
    return {"parts": [(part, number % 2 == 1) for number, part in enumerate(text.split("`"))]}
