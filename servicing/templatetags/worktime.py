"""How long work takes, as people say it."""

from django import template

register = template.Library()


@register.filter
def task_time(minutes: int) -> str:
    """The minutes one task takes; nought was never entered, and is said so."""
    return worktime(minutes) if minutes else "time not entered"


@register.filter
def worktime(minutes: int) -> str:
    """`750` as `12 h 30 min`, `40` as `40 min`."""
    hours, rest = divmod(minutes, 60)
    said = [f"{hours:,} h".replace(",", "\u202f")] if hours else []
    if rest or not hours:
        said.append(f"{rest} min")
    return "\u00a0".join(said).replace(" ", "\u00a0")
