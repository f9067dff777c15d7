"""What a column's heading says it holds, in English, German, French, Spanish, Italian and Dutch.

Words of the trade: common practice, no source. A heading alone never lets a reading count: see `evidence`.
"""

import re
from functools import lru_cache

from fleet.imports.months import folded

MACHINE, DAY, HOURS, TIME, NOTE, MINUTES = "machine", "taken_at", "hours", "time", "note", "minutes"
TENTHS = "tenths"
METER = "meter"  # a heading that only an hour meter has

EXACT = {
    MACHINE: "machine, unit, tag, asset, equipment, serial, serial number, serialnumber, serial no, "
    "machine id, equipment id, equipmentid, asset id, asset no, unit id, fleet number, fleet no, "
    "vehicle, tractor, machine no, maschine, gerat, gerate, fahrzeug, schlepper, bagger, stapler, "
    "kennz, kennzeichen, inventarnummer, seriennummer, maschinennr, maschinen nr, geratenr, objekt, "
    "traktor, maquina, equipo, vehiculo, tractores, n serie, engin, machines, materiel, vehicule, "
    "tracteur, numero de serie, macchina, mezzo, matricola, trattore, attrezzatura, voertuig, "
    "trekker, machinenummer, serienummer, werktuig, maskin machine",
    DAY: "taken at, date, day, read on, read at, reading date, date and time, datetime, timestamp, "
    "ts, when, on, date read, date of reading, date of smr, meter date, datum, tag, ablesetag, "
    "ablesedatum, ablesung am, gelesen am, stand vom, zahler vom, stichtag, zeitpunkt, fecha, "
    "fecha de lectura, fecha lectura, dia, data, data lettura, giorno, jour, date de releve, "
    "date du releve, date releve, dag, wanneer, quand, cuando, quando, wann, opnamedatum, afleesdatum",
    HOURS: "hours, hour, h, hrs, reading, meter, shows, stunden, std, stand, ablesung, zahler, "
    "heures, horas, ore, uren, stand h, hours h, lectura, lettura, releve, compteur, teller, "
    "tellerstand, contatore, value, wert",
    TIME: "uhr, um, at, read time, reading time, time read, abgelesen um, heure de releve, hora de lectura, "
    "orario lettura, time, clock, time of day, uhrzeit, zeit, hora, heure, ora, orario, tijd, tijdstip",
    NOTE: "note, notes, remark, remarks, comment, comments, bemerkung, bemerkungen, notiz, anmerkung, "
    "nota, notas, observaciones, remarque, remarques, observations, osservazioni, opmerking, "
    "opmerkingen",
    MINUTES: "min, mins, minutes, minuten, minutos, minuti, minute",
    TENTHS: "1 10, 1 10 h, 0 1, 0 1 h, h 10, tenth, tenths, tenths h, zehntel, 10tel, zehntelstunden, "
    "dixieme, dixiemes, dixiemes d heure, decimas, decima, decimi, decimo, tienden, tiende",
}
METERS = re.compile(
    r"hour ?meter|meter reading|engine hours|running hours|operating hours|machine hours|total hours|"
    r"\bsm[ru]\b|betriebsstunden|betriebsstd|\bb(?:h|std)\b|zahlerstand|stundenzahler|stundenstand|"
    r"motorstunden|horo ?metr|\bhorom\b|horametro|horas (?:de )?motor|horas maquina|horas totales|"
    r"contador|heures moteur|heures machine|compteur (?:horaire|d heures)|horodateur|contaore|"
    r"ore (?:di )?(?:motore|macchina|lavoro totali)|urenteller|urenstand|draaiuren|motoruren|"
    r"bedrijfsuren"
)
LOOK_ALIKES = {  # the first that fits
    "price": r"price|cost|amount|value in|preis|kosten|betrag|prix|cout|montant|precio|coste|importe|"
    r"prezzo|costo|importo|prijs|bedrag|€|\beur\b|\$|£|\brate\b|\bmiete\b",
    "odometer": r"\bkms?\b|kilomet|\bodo|mileage|\bmiles?\b|\bmi\b|tacho|\bodo m\b|chilomet",
    "next": r"vidange|oil change|olwechsel|aceite|cambio olio|olie|\bnext\b|\bdue\b|nachste|\bfallig|"
    r"prochain|proxim|prossim|volgende|echeance|\bsoll\b|target|service (?:at|bei|a)\b|wartung (?:bei|"
    r"in)|\bbei h\b|remaining|\brest|\bleft\b|verbleib|restant|intervall?\b",
    "last": r"\blast\b|previous|letzt|vorher|vorig|dernier|precedent|ultim|anterior|preceden|laatst|"
    r"\balt\b|\bold\b|since|\bseit\b|depuis|desde",
    "start": r"\bstart|\bbegin|anfang|\bdebut|inicio|inicial|inizi|salida|depart|\bout\b|uscita|"
    r"\bvon\b|\bfrom\b|\bab\b|uitgifte",
    "end": r"\bend\b|\bende\b|\bfin\b|\bfinal|\bfine\b|\beinde?\b|llegada|devolucion|arrivee|\bback\b|"
    r"retour|\breturn|rientro|\bbis\b|\bstop\b|ruckgabe",
    "daily": r"per day|daily|today|worked|duration|used|usage|\bdiff|\bdelta\b|\brun\b|pro tag|"
    r"taglich|tagesstunden|gearbeitet|arbeitsstunden|arbeitszeit|einsatz|dauer|zuwachs|du jour|"
    r"par jour|journ|duree|travail|trabajad|diari|del dia|por dia|duracion|lavorat|giornalier|"
    r"del giorno|durata|gewerkt|per dag|verschil|duur|verbrauch|consum|overtime|uberstunden|labou?r",
    "fuel": r"diesel|fuel|lit(?:er|re|ri|ros)|\bl\b|kraftstoff|tank|carburant|combustible|gasoi?l|"
    r"gasolio|brandstof|adblue|benzin|\boil\b|\bol\b",
    "area": r"\bha\b|hectare|hektar|flache|surface|superfic|\barea\b|oppervlak|acres?|bearbeitet",
    "other": r"\blat\b|\blon\b|pct|percent|%|\brpm\b|temp|load|weight|\bkg\b|tonn|baujahr|\byear\b|"
    r"\bannee|\bano\b|\banno\b|bouwjaar|\blfd\b|^nr$|^no$|^n$|^#$|invoice|beleg|konto|account|menge|"
    r"quantit|qty|aantal|cantidad|contract|contrat|switched|contact|volt|capacity|power|\bkw\b|\bps\b|"
    r"\bhp\b|inv nr|laufende|posten|\bpos\b|\bzeile\b|\bline\b",
}
PATTERNS = {kind: re.compile(pattern) for kind, pattern in LOOK_ALIKES.items()}
WORDS = {role: frozenset(words.split(", ")) for role, words in EXACT.items()}
TOTALS = re.compile(
    r"(?:sub|zwischen|gesamt|sous |grand )?\s*-?(?:total|totaal|totale|totales|totals|totaux|sum|summe|"
    r"gesamt|insgesamt|somme|suma|somma|σ|saldo|average|mittelwert|durchschnitt|moyenne|promedio|media|gemiddelde)\b.*"
)
DAY_OF = re.compile(r"\bdate\b|datum|\bdat\b|fecha|\bdata\b|\bday\b|\bam\b|\bvom\b")
READ_DAY = re.compile(r"read|ables|gelesen|lectur|lettur|relev|opname|aflees|smr|meter|zahler|stand|counter")
OTHER_DAY = re.compile(
    r"purchas|bought|gekauft|kauf|achat|compra|acquist|aankoop|invoice|posting|buch|entered|erfasst|created|"
    r"erstellt|printed|gedruckt|service|wartung|entretien|manten|manut|onderhoud|inspection|prufung|tuv|birth"
)
IGNORED = {"line", "reason", "zeile", "grund"}  # what a file of rejected rows adds, in any language


def normal(text: str) -> str:
    """Return a heading in small letters, without accents and what parts its words."""
    return re.sub(r"[\s_\-.:()/\[\],;'’*]+", " ", folded(text)).strip()


@lru_cache(maxsize=4096)
def kinds(heading: str) -> frozenset[str]:
    """What a heading may say: roles, METER, or the kinds of what only looks like one. heading: normal."""
    bare = re.sub(r" ?\d+$", "", heading) or heading
    found = {role for role, words in WORDS.items() if heading in words or bare in words}
    alike = next((kind for kind, pattern in PATTERNS.items() if pattern.search(heading)), None)
    if found & {MACHINE, DAY, TIME, NOTE, MINUTES, TENTHS} and not found & {HOURS}:
        return frozenset(found)
    if alike:
        return frozenset({alike})
    if METERS.search(heading):
        return frozenset({METER, HOURS})
    if not found and DAY_OF.search(heading):
        found = {DAY}
    return frozenset(found)


def look_alike(heading: str) -> str:
    """The kind of figure that a heading says a column holds instead of the meter; '' where it says none."""
    return next((kind for kind in kinds(heading) if kind in PATTERNS), "")


def is_total(text: str) -> bool:
    """Whether a cell says that its row adds up others."""
    return TOTALS.fullmatch(folded(text.strip())) is not None
