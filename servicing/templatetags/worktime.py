"""How long work takes, as people say it."""

from django import template

register = template.Library()


@register.filter
def worktime(minutes: int) -> str:
    """`750` as `12 h 30 min`, `40` as `40 min`."""
    hours, rest = divmod(minutes, 60)
    said = [f"{hours:,} h".replace(",", "\u202f")] if hours else []
    if rest or not hours:
        said.append(f"{rest} min")
    return "\u00a0".join(said).replace(" ", "\u00a0")
