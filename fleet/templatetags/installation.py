"""How the installation itself does, for those who look after it."""

from django import template

from fleet import signs_of_life

register = template.Library()


@register.inclusion_tag("parts/signs_of_life.html")
def gone_parts() -> dict[str, object]:
    """Say which parts are gone; nothing when all is well."""
    return {"sentences": signs_of_life.sentences(signs_of_life.look())}


@register.inclusion_tag("admin/signs_of_life.html")
def signs_of_life_of_all() -> dict[str, object]:
    """Say of every part when it last gave a sign of life, and which are gone."""
    life = signs_of_life.look()
    return {"sentences": signs_of_life.sentences(life), "parts": signs_of_life.spoken(life)}
