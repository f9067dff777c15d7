"""What the headings of a list of machines say, in English, German, French, Spanish, Italian and Dutch.

Words of the trade: common practice, no source.
"""

import re

from fleet.imports.headings import METERS, normal
from fleet.imports.headings import PATTERNS as LOOK_ALIKES
from fleet.machine_list.listing import (
    CATEGORY,
    CONDITION,
    FOR_HIRE,
    HOURS,
    HOURS_BEFORE,
    HOURS_DAY,
    MAKER,
    MODEL,
    NOTE,
    PIN,
    PRICE,
    SERIAL,
    SINCE,
    TAG,
    TYPE,
    YARD,
)

WEAK_TAG = "weak tag"  # a running number, or the fleet number where the list has no other
MACHINE = "machine"  # its fleet number, or its make and model
BUILT = "built"  # the year it was made: asked whether it came then
DATE = "date"  # of something: asked of what
PLACE = "place"  # a yard in English, for hire in French
NOT_READ = "not read"

HOUR = (
    r"(?:hours?|hrs?|h|hour ?meter|stunden|std|betriebsstunden|bh|heures?|horas|ore|uren|urenstand|draaiuren)"
)
DAY = r"(?:date|day|datum|data|fecha|jour|dag|am|vom|on|del?|du|op|tag|il|le|el)"
READ = (
    r"(?:read|reading|ables\w*|abgelesen|gelesen|lectura|leido|lettura|letto|releve|lu|opname|afgelezen|meter|"
    r"zahler\w*|stand|compteur|contador|contatore|teller\w*)"
)
CAME = (
    r"when (?:it )?(?:came|bought)|at (?:start|purchase|delivery|arrival)|initial\w*|beim? (?:kauf|ubernahme|"
    r"zugang|anschaffung|lieferung)|bei (?:kauf|ubernahme|zugang|anschaffung|lieferung)|anfang\w*|"
    r"a l (?:achat|arrivee)|au debut|initiales|de depart|iniciales|al (?:comprar|llegar)|en la compra|"
    r"all ?(?:acquisto|arrivo)|iniziali|bij (?:aankoop|aankomst|levering)|begin\w*|bought|start"
)

WORDS: tuple[tuple[str, str], ...] = (
    (
        NOT_READ,
        r"mietpreis|mietsatz|hire rate|rental rate|(?:per|a) day|pro tag|par jour|per dag|al dia|tarif|"
        r"^(?:pos|lfd|lfd nr|laufende nr|line|zeile|ligne|linea|fila|regel|reason|grund)$",
    ),
    (PIN, r"\bpin\b|product ident\w*|identification number|produktident\w*"),
    (HOURS_BEFORE, rf"\b{HOUR}\b.*(?:{CAME})|(?:{CAME}).*\b{HOUR}\b"),
    (
        HOURS_DAY,
        rf"\b(?:{DAY}) (?:\w+ )?{READ}\b|\b(?:{READ}|{HOUR}) (?:\w+ )?(?:{DAY})$|^(?:{DAY}) (?:\w+ )?{HOUR}$|"
        r"ables\w*(?:tag|datum)|read on|smr date|opnamedatum|afleesdatum",
    ),
    (
        PRICE,
        r"price|\bcost\b|preis|kosten|\bprix\b|\bcout\b|precio|coste|importe|prezzo|costo|importo|prijs|"
        r"bedrag|\bvalue\b|neuwert|\bwert\b|valeur|valor|valore|waarde|€|£|\beur\b|\bbetrag\b|amount",
    ),
    (BUILT, r"baujahr|\byear\b|\bbj\b|\bannee|\bano\b|\banno\b|bouwjaar|jahrgang|\bbuilt\b"),
    (
        SINCE,
        r"in service|in betrieb|inbetriebnahme|im (?:einsatz|bestand|betrieb|dienst)|\bseit\b|\bsince\b|"
        r"commission|mise en service|en service|\bdepuis\b|puesta en|en servicio|\bdesde\b|in servizio|"
        r"\bdal\b|in dienst|ingebruik|in gebruik|\bsinds\b|purchase|\bbought\b|kaufdatum|gekauft|"
        r"anschaff|achat|compra|acquist|aankoop|zugang|acquired|start date|entrada|arrivee",
    ),
    (
        TAG,
        r"fleet|n(?:um|umero|o|r|°)?(?: de)? (?:parc|flotte|interne?|interno|flota|flotta)|vloot|asset|"
        r"equipment ?id|inventar|\binv\b|kennz|(?:maschinen|gerate|machine|unit|fahrzeug|objekt|intern\w*) ?"
        r"(?:n|nr|no|nummer|number|num|id)$|interne nummer|matricule|numero interno|^tag$|kurzzeichen|"
        r"numero (?:de )?maquina|numero macchina|wagennummer",
    ),
    (
        FOR_HIRE,
        r"\bhire\b|\brent\b|rental|vermiet|mietpark|mietger|verleih|\bmiete?\b|\ba louer\b|louer|"
        r"alquil|nolegg|verhuur|\bhuur\b|en location",
    ),
    (PLACE, r"^location$"),
    (
        YARD,
        r"\byard|depot|\bsite\b|standort|\bhof\b|betriebshof|niederlassung|filiale|\blager|\bplatz\b|\bort\b|"
        r"\bparc\b|agence|\bbase\b|emplacement|\blieu\b|\bpatio\b|ubicacion|\bsede\b|\bsitio\b|piazzale|"
        r"\bluogo\b|vestiging|locatie|standplaats|\bwerf\b|\berf\b|branch|almacen|finca",
    ),
    (
        CONDITION,
        r"works in|condition|bedingung|\beinsatz(?:art|ort|bereich)?$|umgebung|milieu|environ|condicion|"
        r"entorno|condizion|ambiente|omstandig|omgeving|arbeitet in|travaille",
    ),
    (
        TYPE,
        r"maker? (?:and |& |\+ |u )?model|(?:marke|hersteller|fabrikat) (?:und |u |& |\+ )?(?:typ|type|"
        r"modell)|(?:marque|constructeur) (?:et |& )?(?:modele|type)|marca (?:y |e |& )?(?:modelo|modello|"
        r"tipo)|merk (?:en |& )?(?:type|model)|^types?$|^typ$|^tipo$|description|bezeichnung|descripcion|"
        r"descrizione|designation|omschrijving",
    ),
    (
        CATEGORY,
        r"categ|kategorie|\bart\b|geratear|maschinenart|gattung|\bkind\b|\bclass\b|klasse|\bgenre\b|famil|"
        r"famigl|soort|tipologia|(?:machine|equipment) type|type (?:of|de) (?:machine|materiel|engin)|"
        r"tipo (?:de|di) (?:maquina|equipo|macchina)|group|gruppe|groep|gruppo|grupo",
    ),
    (
        MAKER,
        r"\bmaker?\b|manufactur|\boem\w*|\bbrand\b|hersteller|fabrikat\b|\bmarke\b|marque|constructeur|fabricant|"
        r"\bmarca\b|fabricante|costruttore|produttore|\bmerk\b|fabrikant",
    ),
    (MODEL, r"\bmodell?\b|modele|modelo|modello|typenbez|baureihe|baumuster"),
    (
        SERIAL,
        r"serial|serien|\bsn\b|\bs n\b|\bserie\b|matricola|serienummer|chassis|fahrgestell|bastidor|telaio|"
        r"\bvin\b|\bfin\b|fabrik ?n|fabriknummer|\bframe\b",
    ),
    (
        NOTE,
        r"\bnotes?\b|remark|comment|bemerk|notiz|anmerk|hinweis|\bnotas?\b|observ|remarque|osservaz|opmerk",
    ),
    (
        MACHINE,
        r"^(?:machines?|units?|equipment|maschinen?|gerate?|fahrzeug|engins?|materiel|maquinas?|equipos?|"
        r"macchin[ae]|mezz[oi]|attrezzatur[ae]|voertuig|werktuig|vehicle|plant|name)$",
    ),
    (WEAK_TAG, r"^(?:nr|no|n°|n|num|number|numero|nummer|#|id|code|codigo|codice|clave|ref|tag nr)$"),
)
PATTERNS = tuple((column, re.compile(words)) for column, words in WORDS)
METER = re.compile(
    rf"^{HOUR}$|\b{HOUR}\b|zahler|reading|\bstand\b|compteur|contador|contatore|\bteller|\bsm[ru]\b|horometr|orometr"
)
OTHER_FIGURES = ("odometer", "next", "last", "fuel", "area")
ANY_DATE = re.compile(r"^(?:date|datum|fecha|data|day|tag|dag|jour|dia|giorno)$")
UNITS = re.compile(r"h|hrs?|std|bh|eur|€|usd|\$|gbp|£|chf|dd mm yyyy|tt mm jjjj|jj mm aaaa|-|–|")


def column_of(heading: str) -> str:
    """What a heading says its column holds: a column, one of the words above that leave a doubt, or ''."""
    text = normal(heading)
    if not text or len(text) > 60:
        return ""
    for column, pattern in PATTERNS:
        if pattern.search(text):
            return column
    if ANY_DATE.match(text):
        return DATE
    if any(LOOK_ALIKES[kind].search(text) for kind in OTHER_FIGURES):
        return NOT_READ
    return HOURS if METERS.search(text) or METER.search(text) else ""


def is_units(cells: list[str]) -> bool:
    """Whether a row below the headings holds their units alone."""
    return any(cells) and all(UNITS.fullmatch(normal(cell)) is not None for cell in cells)
