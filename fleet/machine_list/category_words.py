"""Which category a word of the trade means, in English, German, French, Spanish, Italian and Dutch.

It is offered to a person, who chooses. Words of the trade: common practice, no source.
"""

import re

from fleet.imports.headings import normal
from fleet.models.machine import Category

WORDS = {
    Category.COMPACT_TRACTOR: "compact tractor, compacttractor, kompakttraktor, kompaktschlepper, "
    "kleintraktor, micro tracteur, tracteur compact, minitractor, tractor compacto, trattore compatto, "
    "trattorino, compacttrekker, compact trekker",
    Category.TRACTOR: "tractor, tractors, traktor, traktoren, schlepper, trecker, tracteur, tracteurs, "
    "tractores, trattore, trattori, trekker, trekkers",
    Category.SKID_STEER: "skid steer, skidsteer, skid steer loader, kompaktlader, chargeuse compacte, "
    "minicargadora, minipala, mini pala, schranklader",
    Category.ZERO_TURN_MOWER: "zero turn, zero turn mower, zeroturn, nullwendekreismaher, nullwendekreis, "
    "tondeuse a rayon zero, tondeuse rayon zero, cortacesped giro cero, giro cero, tosaerba raggio zero, "
    "raggio zero, nuldraaier, zero turn maaier",
    Category.MINI_EXCAVATOR: "mini excavator, miniexcavator, mini digger, minidigger, minibagger, "
    "mini bagger, kompaktbagger, mini pelle, minipelle, mini pelleteuse, miniexcavadora, mini excavadora, "
    "miniescavatore, mini escavatore, minigraver, mini graver, minigraafmachine, mini graafmachine",
    Category.GENERATOR: "generator, generators, genset, stromerzeuger, stromaggregat, notstromaggregat, "
    "aggregat, groupe electrogene, generador, grupo electrogeno, generatore, gruppo elettrogeno, "
    "aggregaat, stroomaggregaat",
    Category.TELEHANDLER: "telehandler, telescopic handler, teleskoplader, teleskopstapler, telelader, "
    "chariot telescopique, telescopique, manipulador telescopico, manipuladora telescopica, telescopica, "
    "sollevatore telescopico, verreiker",
    Category.COMPRESSOR: "compressor, air compressor, kompressor, druckluftkompressor, compresseur, "
    "compresor, compressore",
    Category.LIGHT_TOWER: "light tower, lighting tower, lichtmast, beleuchtungsmast, leuchtturm, "
    "mat d eclairage, tour d eclairage, torre de iluminacion, torre faro, lichtmasten",
    Category.ATTACHMENT: "attachment, attachments, implement, anbaugerat, anbaugerate, anbau, outil, "
    "accessoire, equipement porte, implemento, accesorio, apero, attrezzo, attrezzo portato, "
    "aanbouwdeel, aanbouwwerktuig, werktuig, rotary cutter, auger, erdbohrer, mulcher, tariere, trivella",
    Category.OTHER: "other, sonstige, sonstiges, andere, autre, autres, otro, otros, otra, altro, altri, "
    "overig, overige, diversen",
}
BY_WORD = {word: category for category, words in WORDS.items() for word in words.split(", ")} | {
    normal(category.value): category for category in Category
}
FOUND = re.compile(r"\b(?:" + "|".join(map(re.escape, sorted(BY_WORD, key=len, reverse=True))) + r")\b")


def category_of(text: str) -> str:
    """The category a text names; '' where it names none, or two."""
    words = normal(text)
    if words in BY_WORD:
        return str(BY_WORD[words])
    by_label = {normal(str(category.label)): category for category in Category}
    if words in by_label:
        return str(by_label[words])
    found = {BY_WORD[match[0]] for match in FOUND.finditer(words)} - {Category.OTHER}
    return str(found.pop()) if len(found) == 1 else ""


def without_category(text: str) -> str:
    """The text without the category it begins with: `Minibagger Arden 40C` is `Arden 40C`."""
    words = text.split()
    for count in (3, 2, 1):
        if len(words) > count and normal(" ".join(words[:count])) in BY_WORD:
            return " ".join(words[count:])
    return text
