"""Warnings on a page: what stands in parts/caution.html and parts/must.html."""

from typing import Any

from django import template

from fleet.core import hazards

register = template.Library()
register.filter("actions", hazards.actions)


@register.simple_tag
def panel_of(caution: Any, hazard: str, signal: str, must: Any) -> hazards.Panel:
    """Return the panel of a task's caution, or of what a page says itself."""
    if caution:
        return hazards.panel(caution.hazard, caution.signal, caution.actions)
    return hazards.panel(hazard, signal, must)
