"""Names of months and weekdays in English, German, French, Spanish, Italian and Dutch."""

import unicodedata

NAMES = (
    "january januar janner janvier enero gennaio januari",
    "february februar feber fevrier febrero febbraio februari",
    "march marz mrz mars marzo maart mrt",
    "april avril abril aprile",
    "may mai mayo maggio mei",
    "june juni juin junio giugno",
    "july juli juillet julio luglio",
    "august aout agosto augustus",
    "september septembre septiembre setiembre settembre",
    "october oktober octobre octubre ottobre",
    "november novembre noviembre",
    "december dezember decembre diciembre dicembre",
)
MONTHS = {name: number for number, names in enumerate(NAMES, start=1) for name in names.split()}
LEAST = 3  # letters of a month cut short
WEEKDAYS = (  # from Monday on
    "monday montag lundi lunes lunedi maandag",
    "tuesday dienstag mardi martes martedi dinsdag",
    "wednesday mittwoch mercredi miercoles mercoledi woensdag",
    "thursday donnerstag jeudi jueves giovedi donderdag",
    "friday freitag vendredi viernes venerdi vrijdag",
    "saturday samstag sonnabend samedi sabado sabato zaterdag",
    "sunday sonntag dimanche domingo domenica zondag",
)


def folded(text: str) -> str:
    """Return the text in small letters without accents: "Février" is "fevrier"."""
    parts = unicodedata.normalize("NFKD", text.lower().replace("ß", "ss"))
    return "".join(part for part in parts if not unicodedata.combining(part))


def month_of(word: str) -> int | None:
    """Return the month that a word names, whole or cut short; None where it names none, or could be two."""
    start = folded(word).rstrip(".")
    if start in MONTHS:
        return MONTHS[start]
    meant = {number for name, number in MONTHS.items() if len(start) >= LEAST and name.startswith(start)}
    return meant.pop() if len(meant) == 1 else None


def weekdays(word: str) -> set[int]:
    """The days of the week, from 0 for Monday, that a word may name, whole or cut to two letters or more."""
    start = folded(word).rstrip(".,")
    if len(start) < 2:
        return set()
    return {
        day for day, names in enumerate(WEEKDAYS) if any(name.startswith(start) for name in names.split())
    }
