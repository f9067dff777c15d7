"""What makers write over the columns of a table that hold no interval, in six languages, without accents.

Common practice; no source.
"""


def _set(said: str) -> frozenset[str]:
    return frozenset(said.split("|"))


TASK_HEADINGS = _set(
    "task|tasks|item|items|component|components|work|job|operation|operations|maintenance item|service item"
    "|check point|maintenance|maintenance task|description|part|point|service|what|items to check"
    "|maintenance work|service point|service points|arbeit|arbeiten|wartungsarbeit|wartungsarbeiten"
    "|wartungspunkt|wartungsstelle|bauteil|baugruppe|tatigkeit|position|gegenstand|wartung|aufgabe|prufpunkt"
    "|bezeichnung|wartungspunkte|stelle|was|operation|operation d'entretien|operations|travaux|element"
    "|elements|organe|designation|intervention|point d'entretien|entretien|composant|tarea|tareas|elemento"
    "|elementos|operacion|operaciones|componente|trabajo|trabajos|punto|puntos|descripcion|mantenimiento"
    "|intervento|interventi|operazione|operazioni|componenti|voce|punto di manutenzione|descrizione"
    "|manutenzione|lavoro|organo|taak|taken|onderdeel|onderdelen|werkzaamheid|werkzaamheden|omschrijving"
    "|onderhoudspunt|onderhoud|handeling"
)
ITEM_HEADINGS = _set(
    "item|items|component|components|part|point|service point|check point|system|assembly|bauteil|baugruppe"
    "|wartungspunkt|wartungsstelle|position|gegenstand|stelle|system|organe|element|composant|piece|ensemble"
    "|elemento|componente|pieza|punto|componenti|organo|voce|gruppo|onderdeel|onderdelen|component|group"
    "|gruppe|groupe|grupo|groep|sistema|systeme|systeem"
)
ACT_HEADINGS = _set(
    "action|actions|act|operation|work|work to do|what to do|activity|job|procedure|tatigkeit|arbeit"
    "|massnahme|arbeiten|durchzufuhrende arbeit|operation|operations|travail|intervention|travaux"
    "|action a effectuer|accion|operacion|trabajo|actividad|intervento|operazione|azione|lavoro"
    "|attivita|handeling|actie|werkzaamheid|werkzaamheden|bewerking|service"
)
INTERVAL_HEADINGS = _set(
    "interval|intervals|service interval|maintenance interval|when|frequency|period|schedule|due|periodicity"
    "|how often|intervall|wartungsintervall|haufigkeit|wann|zeitpunkt|turnus|frist|zeitabstand|falligkeit"
    "|intervalle|periodicite|frequence|quand|echeance|intervalo|frecuencia|periodicidad|cuando|periodo"
    "|intervallo|frequenza|periodicita|quando|scadenza|interval|frequentie|wanneer|termijn|onderhoudsinterval"
    "|intervalle d'entretien|intervalo de mantenimiento|intervallo di manutenzione|after that|thereafter"
    "|afterwards|then|danach|anschliessend|ensuite|par la suite|despues|luego|in seguito|dopo|daarna"
    "|vervolgens"
)
PAGE_HEADINGS = _set(
    "page|pages|manual page|p|pg|ref page|reference page|see page|page no|seite|seiten|s|siehe seite|handbuch"
    "|pagina|paginas|pag|pagine|pages|voir page|ver pagina|vedi pagina|zie pagina|blz|bladzijde|ref|reference"
    "|section|chapter|kapitel|chapitre|capitulo|capitolo|hoofdstuk|referencia|riferimento|verwijzing"
    "|manual|see|siehe|voir|ver|vedi|zie|abschnitt|paragraph"
)
NOTE_HEADINGS = _set(
    "note|notes|remark|remarks|footnote|footnotes|comment|comments|bemerkung|bemerkungen|anmerkung"
    "|anmerkungen|hinweis|hinweise|fussnote|remarque|remarques|observation|observations|commentaire|nota"
    "|notas|observaciones|observacion|comentarios|note|annotazioni|osservazioni|avvertenze|opmerking"
    "|bem|anm|rem|obs|oss|opm|opmerkingen|noot|toelichting|conditions|condition|bedingung|condiciones|condizioni"
)
NUMBER_HEADINGS = _set("no|nr|#|item no|row|n|num|pos|n°|nº|lfd nr|lfd|id|pos no|pos nr")

SPEC_WORDS = _set(
    "spec|specs|specification|specifications|torque|capacity|tolerance|limit|limits|value|values|setting"
    "|settings|quantity|oil|lubricant|grade|fluid|data|drehmoment|anzugsmoment|anziehdrehmoment|fullmenge"
    "|menge|sollwert|toleranz|wert|werte|schmierstoff|vorgabe|angaben|couple|capacite|valeur|valeurs"
    "|quantite|lubrifiant|huile|jeu|par|apriete|capacidad|especificacion|especificaciones|tolerancia|valor"
    "|valores|cantidad|lubricante|coppia|capacita|specifica|specifiche|valore|valori|tolleranza|quantita"
    "|lubrificante|dati|aanhaalmoment|inhoud|specificatie|specificaties|waarde|waarden|hoeveelheid"
    "|smeermiddel|tolerantie|range|sollwerte|einstellwert|pressure|clearance|nennwert|grenzwert|koppel"
    "|qty|qte|anzahl|stuck|aantal|place|location|ort|lieu|emplacement|lugar|ubicacion|posizione|plaats|who|by|wer|personal|qui|quien|chi|wie"
)
