"""Words of makers' tables in English, German, French, Spanish, Italian and Dutch.

They are compared without accents and capitals (`plain`). What the trade writes over its columns and into its
cells is common practice; no source.
"""

import re
import unicodedata
from functools import lru_cache

HOURS, MONTHS, YEARS = "hours", "months", "years"
WEEKS, DAYS, DISTANCE = "weeks", "days", "distance"
AS_REQUIRED, BEFORE_STORAGE = "as required", "before storage"


@lru_cache(maxsize=8192)
def plain(words: str) -> str:
    """Return words in small letters without accents, every run of blanks one."""
    parted = unicodedata.normalize("NFD", words.casefold())
    bare = "".join(letter for letter in parted if not unicodedata.combining(letter))
    return " ".join(bare.replace("’", "'").replace("\u2044", "/").split())


def _any(*words: str) -> re.Pattern[str]:
    """A pattern for any of these, whole words, the longest first."""
    longest = sorted((word for line in words for word in _ways(line)), key=len, reverse=True)
    return re.compile(rf"(?<![a-z0-9])(?:{'|'.join(longest)})(?![a-z])")


def _set(said: str) -> frozenset[str]:
    return frozenset(said.split("|"))


def _ways(line: str) -> list[str]:
    """Part at the strokes that stand in no bracket."""
    found, depth = [""], 0
    for letter in line:
        depth += (letter == "(") - (letter == ")")
        if letter == "|" and not depth:
            found.append("")
        else:
            found[-1] += letter
    return found


UNITS: dict[str, str] = {
    HOURS: r"h|hs|hr|hrs|hour|hours|std|stdn|stunde|stunden|bh|bstd|betriebsstunden|betriebsstd|motorstunden"
    r"|heure|heures|hora|horas|ora|ore|uur|uren|u|draaiuren|bedrijfsuren|werkuren",
    MONTHS: r"mo|mos|mth|mths|month|months|mon|monat|monate|monaten|monats|mois|mes|meses|mese|mesi|maand"
    r"|maanden|mnd",
    YEARS: r"y|yr|yrs|year|years|j|jahr|jahre|jahren|jahres|an|ans|annee|annees|ano|anos|anno|anni|jaar"
    r"|jaren",
    WEEKS: r"wk|wks|week|weeks|woche|wochen|semaine|semaines|sem|semana|semanas|settimana|settimane|weken",
    DAYS: r"d|day|days|tag|tage|tagen|jour|jours|dia|dias|giorno|giorni|dag|dagen",
    DISTANCE: r"km|kilometer|kilometers|kilometre|kilometres|kilometros|chilometri|mi|mile|miles",
}
DAILY_WORDS = _set(
    "daily|each day|every day|once a day|taglich|arbeitstaglich|jeden tag|quotidien|quotidienne|journalier"
    "|quotidiennement|journellement|chaque jour|tous les jours|diario|diaria|diariamente|cada dia|a diario"
    "|todos los dias|giornaliero|giornaliera|giornalmente|ogni giorno|quotidianamente|tutti i giorni"
    "|dagelijks|elke dag|iedere dag"
)
NUMBERS = dict(
    enumerate(
        (
            r"one|eine|einem|einen|une|una|een",
            r"two|zwei|deux|dos|due|twee",
            r"three|drei|trois|tres|tre|drie",
            r"four|vier|quatre|cuatro|quattro",
            r"five|funf|cinq|cinco|cinque|vijf",
            r"six|sechs|seis|sei|zes",
            r"seven|sieben|sept|siete|sette|zeven",
            r"eight|acht|huit|ocho|otto",
            r"nine|neun|neuf|nueve|nove|negen",
            r"ten|zehn|dix|diez|dieci|tien",
            r"eleven|elf|onze",
            r"twelve|zwolf|douze|doce|dodici|twaalf",
        ),
        start=1,
    )
)
EVERY = _any(
    r"every|each|after every|per|alle|jede[rsnm]?|je|pro|tous les|toutes les|chaque|par|cada|todos los"
    r"|todas las|ogni|tutti i|tutte le|elke|elk|iedere|ieder|om de|interval|intervall"
)
FIRST = _any(
    r"first|1st|initial|initially|at first|run-in|run in|running-in|running in|break-in|break in|new"
    r"|erste[nrsm]?|erstmals|erstmalig|zuerst nach|erstwartung|einlaufzeit|einlaufen|neu"
    r"|premiere|premieres|premier|premiers|initialement|rodage"
    r"|primera|primeras|primer|primero|primeros|inicial|inicialmente|rodaje"
    r"|prima|prime|primo|primi|iniziale|inizialmente|rodaggio"
    r"|eerste|de eerste keer|aanvankelijk|inlopen|inrijden|inloopperiode"
)
ORDINAL = re.compile(r"(?<![\w.,])1(?:st|ere|re|er|ste|e|a|ª|º)(?=\s)")
ONCE = _any(
    r"once|only once|once only|one time|einmal|einmalig|nur einmal|une fois|une seule fois|una vez"
    r"|una sola vez|una volta|una sola volta|eenmalig|eenmaal"
)
THEN = _any(
    r"then|and then|thereafter|there after|afterwards|subsequently|following"
    r"|dann|und dann|danach|anschliessend|nachher|weiterhin|puis|ensuite|par la suite"
    r"|luego|despues|y luego|posteriormente|a continuacion|poi|e poi|successivamente|in seguito|quindi"
    r"|daarna|en daarna|vervolgens"
)
REGULARLY = _any(
    r"regular|regularly|recurring|repeat|repeated|repeats|routine|subsequent|periodic|periodically"
    r"|repeat every|successive|regelmassig|wiederkehrend|folgend|folgende|weitere|wiederholung|reguliere?"
    r"|regulierement"
    r"|periodique|periodiquement|regularmente|periodico|periodicamente|successivo|regolare"
    r"|regolarmente|regelmatig|periodiek|vervolg"
)
AFTER = _any(r"after|at|nach|bei|apres|tras|despues de|a las|a los|dopo|na|bij|a partir de")
WHICHEVER = re.compile(
    r"(?:,|;|-|–|\()?\s*(?:"
    r"(?:depending on |according to )?(?:which ?ever|what ?ever|which)(?: one)?(?: event)?"
    r" (?:comes|occurs|is|falls|happens|arrives|is reached)(?: to be)? ?(?:the )?(?:first|earlier|earliest"
    r"|sooner|soonest)"
    r"|which ?ever(?:'s| is)? (?:the )?(?:first|earlier|earliest|sooner|soonest)"
    r"|(?:je nachdem,? )?(?:was|welches|wie) (?:auch immer )?(?:zuerst|fruher|eher)"
    r"(?: eintritt| kommt| erreicht wird| erreicht ist| zutrifft| der fall ist| eintrifft)?"
    r"|(?:selon|suivant)? ?(?:la premiere (?:eventualite|echeance)(?: atteinte)?"
    r"|le premier (?:terme )?(?:atteint|echu|des deux)(?: atteint)?"
    r"|ce qui (?:arrive|se produit|survient) (?:en premier|d'abord))"
    r"|au premier (?:des deux )?(?:terme|seuil|echu)s?(?: atteint| echu)?"
    r"|a la premiere echeance(?: atteinte)?"
    r"|(?:segun )?lo (?:primero que|que) (?:ocurra|suceda|se cumpla|llegue|se alcance|antes ocurra)"
    r"(?: primero| antes)?"
    r"|(?:a seconda di )?(?:quale|quello che|cio che|il primo che|l'evento che|a seconda)"
    r"(?: (?:condizione|evento|dei due|termine))?(?: che)?"
    r" (?:si )?(?:verifica|verifichi|avviene|raggiunge|viene|raggiunto|avvenga)"
    r"(?: per)?(?: primo| prima)?"
    r"|(?:naargelang |afhankelijk van )?(?:wat|wat er|welke|hetgeen) (?:zich )?(?:het )?(?:eerst|eerste"
    r"|eerder)"
    r"(?: komt| voordoet| bereikt wordt| wordt bereikt| zich voordoet| van toepassing is)?"
    r")\s*\)?"
)
WHICHEVER_LAST = re.compile(
    r"which ?ever (?:comes|occurs|is)(?: the)? (?:last|later|latest)|was (?:zuletzt|spater)"
    r"|le dernier atteint"
    r"|lo ultimo|ultimo che|wat het laatst"
)
OR = _any(r"or|oder|bzw|beziehungsweise|respektive|ou|bien|o|u|od|oppure|ovvero|of|and|und|et|y|e|en")
RANGE = r"(?:-|–|—|to|bis|a|à|until|up to|tot|ad|hasta)"
STOP = _any(
    r"the|of|a|in|operation|operating|operational|engine|service|use|running|working|work|intervals?|hours"
    r"|der|die|das|den|dem|des|betriebs|betrieb|laufzeit|im|am|les|le|la|las|los|l'|de|d'|du|di|del|dei|delle"
    r"|delle|dell'|il|lo|gli|i|un|una|uno|une|al|alla|alle ore|all'|het|een|bedrijf"
    r"|fonctionnement|marche|moteur|travail|utilisation|funcionamiento|trabajo|servicio|operacion|uso|motor"
    r"|lavoro|funzionamento|esercizio|servizio|utilizzo|gebruik|werking|draaien|bedrijfs"
    r"|aux|but|aber|mais|pero|maar|when|while|wenn|quando|cuando|wanneer|if|at|it|be|is|are|for|fur|pour|para|per|voor|and|und"
    r"|et|y|e|en"
)
LIMIT = _any(
    r"only|nur|seulement|solamente|solo|soltanto|alleen|at least|at the latest|no later than|mindestens"
    r"|spatestens|au moins|au plus tard|al menos|como minimo"
    r"|a mas tardar|almeno|al piu tardi|minstens|uiterlijk"
)
EACH_SEASON = (
    r"(?:every|each) (?:spring|summer|autumn|fall|winter)|(?:jeden|jedes) (?:fruhling|fruhjahr|sommer|herbst"
    r"|winter)|chaque (?:printemps|ete|automne|hiver)|cada (?:primavera|verano|otono|invierno)"
    r"|ogni (?:primavera|estate|autunno|inverno)|(?:elke|elk|ieder|iedere) (?:lente|voorjaar|zomer|herfst"
    r"|najaar|winter)"
)
WORD_INTERVALS: dict[tuple[str, int], re.Pattern[str]] = {
    (MONTHS, 6): _any(
        r"half[- ]?yearly|semi[- ]?annually|semi[- ]?annual|twice a year|twice yearly|halbjahrlich|halbjahrig"
        r"|zweimal (?:jahrlich|im jahr|pro jahr)|semestriel|semestrielle|semestriellement|deux fois par an"
        r"|semestral|semestralmente|dos veces al ano|semestrale|semestralmente|due volte (?:all'|l')anno"
        r"|halfjaarlijks|tweemaal per jaar|every half year"
    ),
    (MONTHS, 24): _any(
        r"every other year|every second year|biennially|biennial|alle zwei jahre|zweijahrlich"
        r"|tous les deux ans"
        r"|bisannuel|bienal|biennale|tweejaarlijks|om het jaar"
    ),
    (MONTHS, 3): _any(
        r"quarterly|every quarter|vierteljahrlich|quartalsweise|trimestriel|trimestrielle|trimestriellement"
        r"|trimestral|trimestralmente|trimestrale|trimestralmente|per kwartaal|driemaandelijks|elk kwartaal"
    ),
    (MONTHS, 12): _any(
        rf"{EACH_SEASON}|"
        r"per annum|p\.a\.|yearly|annually|annual|once a year|once per year|once every year|each season"
        r"|every season"
        r"|jahrlich|einmal jahrlich|einmal im jahr|einmal pro jahr|annuel|annuelle|annuellement"
        r"|une fois par an|une fois l'an|anual|anualmente|una vez al ano|annuale|annualmente"
        r"|una volta (?:all'|l')anno|jaarlijks|eenmaal per jaar|een keer per jaar|1 ?x (?:jahrlich"
        r"|per jaar|year)"
    ),
    (MONTHS, 1): _any(
        r"monthly|once a month|monatlich|einmal im monat|mensuel|mensuelle|mensuellement|mensual|mensualmente"
        r"|mensile|mensilmente|maandelijks|eenmaal per maand"
    ),
    (WEEKS, 1): _any(
        r"weekly|once a week|wochentlich|einmal wochentlich|hebdomadaire|hebdomadairement|chaque semaine"
        r"|semanal|semanalmente|settimanale|settimanalmente|wekelijks"
    ),
    (DAYS, 1): _any(
        r"daily|each day|every day|once a day|every use|each use|before (?:each|every) use|before use"
        r"|before (?:each|every) (?:start|shift|day)|before (?:starting )?work|each shift|every shift"
        r"|before starting|before start-up|after each use|after every use|after each day's work|day's work"
        r"|taglich|tagl|arbeitstaglich|jeden tag|vor (?:jedem|jeder) (?:gebrauch|einsatz|fahrt|inbetriebnahme"
        r"|start"
        r"|arbeitsbeginn|benutzung)|vor arbeitsbeginn|nach (?:jedem|jeder) (?:gebrauch|einsatz|benutzung)"
        r"|quotidien|quotidienne|quotidiennement|journalier|journaliere|chaque jour|tous les jours"
        r"|journellement|avant chaque (?:utilisation|mise en marche|demarrage|emploi)"
        r"|apres chaque utilisation"
        r"|diario|diaria|diariamente|cada dia|todos los dias|antes de cada (?:uso|jornada|arranque)|a diario"
        r"|despues de cada uso|giornaliero|giornaliera|giornalmente|ogni giorno|quotidianamente|quotidiano"
        r"|tutti i giorni|prima di ogni (?:uso|utilizzo|impiego|avviamento)|dopo ogni (?:uso|utilizzo)"
        r"|dagelijks|elke dag|iedere dag|voor elk gebruik|voor ieder gebruik|na elk gebruik|voor elke start"
    ),
}
WHEN: dict[str, re.Pattern[str]] = {
    AS_REQUIRED: _any(
        r"as required|as needed|as necessary|when required|when needed|when necessary|whenever necessary"
        r"|if required|if needed|if necessary|where necessary|on demand|on condition"
        r"|bei bedarf|nach bedarf|je nach bedarf|wenn notig|falls notig|wenn erforderlich|falls erforderlich"
        r"|si necessaire|au besoin|selon besoin|selon les besoins|en cas de besoin|lorsque necessaire"
        r"|quand necessaire|suivant besoin|segun necesidad|segun se requiera|segun sea necesario"
        r"|si es necesario"
        r"|cuando sea necesario|si fuera necesario|en caso necesario|en caso de necesidad|si procede"
        r"|al bisogno|se necessario|secondo necessita|secondo il bisogno|quando necessario|all'occorrenza"
        r"|in caso di necessita|a necessita|indien nodig|naar behoefte|zo nodig|wanneer nodig|als nodig"
        r"|naar gelang de behoefte"
    ),
    BEFORE_STORAGE: _any(
        r"before (?:winter |long[- ]term |prolonged |seasonal )?(?:storage|storing|lay-up|laying up)"
        r"|prior to (?:winter |long[- ]term )?storage"
        r"|vor (?:der |dem |einer |jeder |langerer |langerem )?(?:einlagerung|einlagern|winterpause"
        r"|stilllegung"
        r"|lagerung|einwintern|einwinterung|uberwinterung|abstellen|winterlager)"
        r"|avant (?:le |l'|un |chaque |la )?(?:remisage|stockage|hivernage|entreposage|mise en hivernage)"
        r"(?: prolonge| d'hiver| hivernal)?"
        r"|antes de(?:l| la)? (?:almacenar|almacenamiento|almacenaje|guardar|invernaje|guardarla)"
        r"|antes de(?:l)? periodo de inactividad"
        r"|prima (?:del |dell'|di |dello )(?:rimessaggio|immagazzinamento|deposito|stoccaggio|ricovero"
        r"|inattivita)(?: invernale)?"
        r"|voor (?:de |het |elke )?(?:opslag|stalling|winterstalling|berging|stallen|opbergen|winterberging"
        r"|winterstop)"
    ),
}
CONDITIONS: dict[str, re.Pattern[str]] = {
    "dust": _any(
        r"(?:in |for |under |very |extremely ){0,3}(?:severe dust|dusty|dust)"
        r"(?: conditions?| environments?| areas?| operation| work| use){0,3}"
        r"|(?:bei |im |in |unter ){0,3}(?:starkem |viel |staubigen |staubiger ){0,3}(?:staubbelastung"
        r"|staubbetrieb"
        r"|staubanfall|staub|staubig|staubigen?|staubiger|staubige)"
        r"(?: bedingungen| umgebung| verhaltnissen| betrieb| einsatz){0,3}"
        r"|(?:en |dans |sous ){0,3}(?:atmosphere |conditions |milieu |ambiance |environnement |zone )?"
        r"(?:poussiereuses?|poussiereux|poussiere)"
        r"|(?:en |con ){0,3}(?:condiciones |ambientes? |zonas? )?(?:con |de ){0,3}(?:mucho )?(?:polvorientas?"
        r"|polvorientos?|polvo)"
        r"|(?:in |con ){0,3}(?:condizioni |ambienti? )?(?:con |di ){0,3}(?:molta )?(?:polverosi"
        r"|polverosa|polverose"
        r"|polveroso|polvere)"
        r"|(?:in |bij ){0,3}(?:een )?(?:veel )?(?:stoffige|stoffig|stof)(?: omgeving| omstandigheden){0,3}"
    ),
    "wet": _any(
        r"(?:in |for |under ){0,3}(?:wet|muddy|mud|water)(?: conditions?| areas?| work| use){0,3}"
        r"|(?:bei |im |in ){0,3}(?:nassen?|nasser|nasse|nass|schlamm|nassbetrieb)(?: bedingungen| umgebung"
        r"| einsatz){0,3}"
        r"|(?:en |dans ){0,3}(?:milieu |conditions? )?(?:humides?|boueux|boueuses|boue)"
        r"|(?:en ){0,3}(?:condiciones |ambientes? )?(?:humedos?|humedas?|barro)"
        r"|(?:in ){0,3}(?:condizioni |ambienti? )?(?:bagnato|bagnate|umidi|umide|umido|fango)"
        r"|(?:in |bij ){0,3}(?:natte|nat|modder)(?: omgeving| omstandigheden){0,3}"
    ),
    "heavy": _any(
        r"(?:in |for |under ){0,3}heavy(?: load| loads| duty| use| work| service| operation){0,3}"
        r"|(?:bei |unter ){0,3}(?:schwerem einsatz|schwerer belastung|schwerer arbeit|hoher belastung"
        r"|schwerlast"
        r"|schwerbetrieb)"
        r"|(?:en |a ){0,3}(?:forte charge|charge lourde|usage intensif|travaux lourds)"
        r"|(?:en |con ){0,3}(?:trabajos? pesados?|carga pesada|uso intensivo)"
        r"|(?:in |con ){0,3}(?:carichi? pesanti?|carichi? gravosi?|uso intensivo|lavori pesanti"
        r"|impiego gravoso)"
        r"|(?:bij ){0,3}(?:zware belasting|zwaar gebruik|zwaar werk|zware omstandigheden)"
    ),
}
HARD_USE = _any(
    r"severe|harsh|arduous|adverse|erschwerte[rn]?|extremen?|conditions difficiles|conditions severes"
    r"|usage severe|condiciones (?:severas|duras|adversas|extremas)|condizioni (?:gravose|difficili|severe)"
    r"|zwaardere|extreme omstandigheden"
)

ACTS: dict[str, re.Pattern[str]] = {
    "check": _any(
        r"check|checks|inspect|inspection|test|examine|verify|measure|prufen|kontrollieren|kontrolle|prufung"
        r"|sichtprufung|uberprufen|verifier|verification|controler|controle|inspecter|contrôle|comprobar"
        r"|comprobacion|revisar|revision|inspeccionar|inspeccion|verificar|controllare|controllo|verificare"
        r"|verifica|ispezionare|ispezione|controleren|nakijken|inspecteren|testen"
    ),
    "replace": _any(
        r"replace|replacement|change|renew|exchange|wechseln|ersetzen|austauschen|erneuern|wechsel|austausch"
        r"|tauschen|remplacer|remplacement|changer|vidanger|vidange|changement|sustituir|sustitucion|cambiar"
        r"|cambio|reemplazar|sostituire|sostituzione|cambiare|vervangen|verversen|vernieuwen|wisselen"
    ),
    "adjust": _any(
        r"adjust|adjustment|set|einstellen|nachstellen|einstellung|justieren|regler|reglage|ajuster|ajustar"
        r"|ajuste|regular|regolare|regolazione|registrare|afstellen|bijstellen|instellen"
    ),
    "lubricate": _any(
        r"lubricate|lubrication|grease|oil|schmieren|abschmieren|fetten|olen|graisser|graissage|lubrifier"
        r"|lubrification|engrasar|engrase|lubricar|lubricacion|ingrassare|ingrassaggio|lubrificare"
        r"|lubrificazione|smeren|doorsmeren|invetten"
    ),
    "clean": _any(
        r"clean|cleaning|wash|reinigen|reinigung|saubern|nettoyer|nettoyage|limpiar|limpieza|pulire|pulizia"
        r"|reinigen|schoonmaken|reiniging"
    ),
    "drain": _any(
        r"drain|bleed|ablassen|entwassern|entluften|purger|purge|drenar|drenaje|purgar|scaricare|spurgare"
        r"|spurgo|aftappen|ontluchten"
    ),
    "tighten": _any(
        r"tighten|retighten|re-tighten|torque|anziehen|nachziehen|festziehen|serrer|resserrer|resserrage"
        r"|apretar|reapretar|apriete|serrare|serraggio|aandraaien|aanhalen|natrekken"
    ),
    "top up": _any(
        r"top up|fill|refill|nachfullen|auffullen|remplir|faire l'appoint|rellenar|rabboccare|bijvullen"
        r"|charge"
    ),
}
DUE_SIGNS = _any(
    r"due|perform|carry out|required|to be done|do|service|each time|every time|at every interval|execute"
    r"|fallig|durchfuhren|auszufuhren|jedes mal|jedesmal|bei jeder wartung|a effectuer|effectuer|a faire"
    r"|chaque fois|realizar|a realizar|cada vez|efectuar|da eseguire|eseguire|ogni volta|uitvoeren|elke keer"
    r"|telkens|maintenance|wartung|entretien|mantenimiento|manutenzione|onderhoud|task due"
)
REGULAR_WORK = re.compile(  # "regular" alone is Spanish for adjusting
    r"(?:(?:at )?(?:each|every|the)? ?)?(?:regular|normal|routine|scheduled|periodic|ordinary) "
    r"(?:service|maintenance|interval|inspection|work|change)s?"
)
NOT_DUE = _any(
    r"not (?:required|due|necessary|needed|applicable|fitted)|no (?:action|work|service|maintenance)"
    r"|nothing(?: due)?|does not apply|n/a|nicht (?:erforderlich|notig|fallig|zutreffend|vorhanden)|entfallt"
    r"|keine? (?:arbeit|wartung)|pas (?:necessaire|requis)|non (?:requis|necessaire|applicable)|sans objet"
    r"|rien|no (?:es )?(?:necesario|requerido|aplicable|procede|aplica|se requiere)|nada"
    r"|non (?:richiesto|necessario|applicabile|previsto|dovuto)|niente|nulla"
    r"|niet (?:nodig|vereist|van toepassing|verplicht)|geen (?:werk|onderhoud)|vervalt"
)
LEGEND_HEADINGS = _any(
    r"legend|key|symbols?|signs?|meaning of (?:the )?(?:signs|symbols|letters)|explanation|codes?"
    r"|legende|zeichenerklarung|zeichen|symbole|erlauterung|leyenda|simbolos?|claves?|legenda|simboli"
    r"|simbologia|tekens|verklaring(?: van de tekens)?|symbolen|abkurzungen|abbreviations|marks?"
)


TIME_ONLY = _any(
    r"time|times|mal|fois|vez|volta|keer|only|nur|seulement|uniquement|solo|solamente|soltanto|alleen|service"
    r"|inspection|wartung|entretien|servicio|manutenzione|onderhoud|intervention"
)


def together(before: str, after: str) -> str:
    """Put a line and the one it goes on with together: `hydrau-` and `lic oil` is one word."""
    begins = re.match(r"[^\W\d_]+", after)
    parted = re.search(r"[^\W\d_]-$", before) and begins and begins[0][0].islower()
    if parted and begins and not OR.fullmatch(plain(begins[0])):
        return before[:-1] + after
    return f"{before} {after}"


def says_only_first(words: str) -> bool:
    """Whether words say nothing but that something is for the first time: `first change only`."""
    said = plain(words)
    for pattern in (ONCE, FIRST, TIME_ONLY, AFTER, STOP, *ACTS.values()):
        said = pattern.sub(" ", said)
    return not re.search(r"[a-z0-9]", said)


def act_of(words: str) -> str:
    """Return which act words name at their beginning or end, "" where they name none."""
    said = plain(words)
    for act, pattern in ACTS.items():
        if pattern.search(said):
            return act
    return ""


def acts_of(words: str) -> set[str]:
    """Return all acts that words name."""
    said = plain(words)
    return {act for act, pattern in ACTS.items() if pattern.search(said)}
