"""What the cells of a list of machines mean: figures, prices, days, yes and no, conditions of work."""

import re
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, tzinfo
from decimal import Decimal

from django.utils.translation import gettext as _

from fleet.core.number_reader import COMMA, POINT, read_marked
from fleet.imports.cell_days import FIRST_DAY, Days, NoDay, NoYear, read_moment
from fleet.imports.cell_values import Wrong, read_number, short
from fleet.imports.headings import normal
from fleet.models.machine import WorkingCondition
from fleet.readings.submission import MOST_HOURS
from fleet.usage import figures

LARGEST_PRICE = Decimal("9999999999.99")
FIRST_YEAR = 1950  # before it a year is a slip: `fleet.readings.submission.YEARS`
HUNDREDTH = Decimal("0.01")
SIGNS = {
    "€": {"EUR"},
    "euro": {"EUR"},
    "£": {"GBP"},
    "$": {"USD", "CAD", "AUD", "NZD", "SGD", "HKD", "MXN", "CLP", "COP", "ARS", "BRL"},
    "us$": {"USD"},
    "fr": {"CHF"},
    "sfr": {"CHF"},
    "kr": {"SEK", "NOK", "DKK", "ISK"},
    "zł": {"PLN"},
    "kč": {"CZK"},
    "ft": {"HUF"},
    "lei": {"RON"},
    "¥": {"JPY", "CNY"},
    "₹": {"INR"},
    "r": {"ZAR"},
}
CODES = {code for codes in SIGNS.values() for code in codes}
HEADING_SIGNS = {"€", "£", "$", "¥", "₹", "us$", "euro", "sfr"}
CODE = re.compile(r"[A-Za-z]{3}")
AROUND_MONEY = re.compile(r"[^\d\s.,'’`+\-−–]+\.?")
NO_CENTS = re.compile(r"([.,])\s*[-–—]+$")
YES = {"x", "y", "yes", "ja", "j", "oui", "o", "si", "s", "true", "wahr", "vrai", "1", "✓", "✔", "●", "•"}
NO = {"", "n", "no", "nein", "non", "nee", "false", "falsch", "faux", "falso", "0", "-", "–", "—", "✗", "✘"}
CONDITIONS = {
    WorkingCondition.NORMAL: "normal normale normales normaal standard leicht light",
    WorkingCondition.DUST: "dust dusty staub staubig poussiere poussiereux polvo polvoriento polvere "
    "polveroso stof stoffig",
    WorkingCondition.WET: "wet nass feucht mud matsch humide mouille humedo mojado bagnato umido nat",
    WorkingCondition.HEAVY: "heavy schwer schwerlast lourd intensif pesado duro pesante gravoso zwaar hard",
}
BY_WORD = {word: str(condition) for condition, words in CONDITIONS.items() for word in words.split()} | {
    "heavy load": WorkingCondition.HEAVY.value,
    "schwere last": WorkingCondition.HEAVY.value,
}


@dataclass(frozen=True)
class Marks:
    """How the list writes figures and days. answered: a person said which decimal mark it has.

    decimal_open, days_open: it can't be told and nobody said yet. zone: where its days are.
    """

    decimal: str = POINT
    answered: bool = False
    decimal_open: bool = False
    days: Days = field(default_factory=Days)
    days_open: bool = False
    zone: tzinfo = UTC


def hours(text: str, marks: Marks) -> Decimal:
    """Read hours, to a hundredth. Raises Wrong."""
    found = _exact(read_number(text, marks.decimal), text, text, marks)
    if found < 0:
        raise Wrong(_("Give 0 h or more."))
    if found > MOST_HOURS:
        raise Wrong(_("“{cell}” is more than any meter shows.").format(cell=short(text)))
    return found


def price(text: str, marks: Marks, currency: str) -> Decimal:
    """Read a price in the organisation's currency. Raises Wrong, for one in another currency as well."""
    said = currency_in(text)
    if said and currency not in said:
        sentence = _("“{cell}” isn't in {currency}. Convert it, or leave it empty.")
        raise Wrong(sentence.format(cell=short(text), currency=currency))
    figure = figure_of_price(text)
    found = next(
        (
            number
            for mark in (marks.decimal, *({POINT, COMMA} - {marks.decimal}))
            if (number := read_marked(figure, mark)) is not None
        ),
        None,
    )
    unknown = said is None
    if found is None or unknown:
        raise Wrong(_("“{cell}” is not a price.").format(cell=short(text)))
    found = _exact(found, figure, text, marks)
    if not 0 <= found <= LARGEST_PRICE:
        raise Wrong(_("Give a price of 0 or more."))
    return found


def figure_of_price(text: str) -> str:
    """A price without its currency: `€ 45.000,-` is `45.000,00`."""
    return NO_CENTS.sub(r"\g<1>00", AROUND_MONEY.sub("", text).strip()).strip()


def currency_in(text: str) -> set[str] | None:
    """The currencies that a text may name: none where it names none, None where its word is no currency."""
    found: set[str] = set()
    for match in AROUND_MONEY.finditer(text):
        word = match[0].strip(".,()").lower()
        if not word:
            continue
        if word in SIGNS:
            found |= SIGNS[word]
        elif CODE.fullmatch(word):
            found.add(word.upper())
        else:
            return None
    return found


def currencies_of_heading(heading: str) -> set[str]:
    """The currencies that a heading of prices names: `Preis (CHF)`, `Price £`; none where it names none."""
    words = re.findall(r"[^\W\d_]+\$?|[€£$¥₹]", heading)
    by_sign = [SIGNS[word.lower()] for word in words if word.lower() in HEADING_SIGNS]
    return {code for codes in by_sign for code in codes} | {word for word in words if word in CODES}


def day(text: str, days: Days) -> tuple[date, str]:
    """Read a day, with a remark where the list names a month or a year alone. Raises Wrong."""
    remark = ""
    try:
        found = read_moment(text, None, days, UTC).date()
    except NoYear:
        raise Wrong(_("“{cell}” names no year.").format(cell=short(text))) from None
    except NoDay:
        whole = Days(days.order, days.year, FIRST_DAY, days.mixed)
        found = read_moment(text, None, whole, UTC).date()
        remark = _("Read as {day}.").format(day=figures.long_day(found))
    except OverflowError:
        raise Wrong(_("“{cell}” is not a date.").format(cell=short(text))) from None
    if found.year < FIRST_YEAR:
        raise Wrong(_("“{cell}” is too long ago.").format(cell=short(text)))
    return found, remark


def moment(text: str, marks: Marks, now: datetime) -> datetime:
    """Read the day of a reading: its noon, or the time that is beside it; of today, now. Raises Wrong."""
    found, _remark = day(text, marks.days)
    if marks.days_open:
        return now
    today = now.astimezone(marks.zone).date()
    if found > today:
        raise Wrong(_("That day is in the future. Choose an earlier one."))
    if found == today:
        return now
    try:
        return read_moment(text, None, marks.days, marks.zone)
    except NoDay:
        return datetime.combine(found, time(12), tzinfo=marks.zone)


def yes_or_no(text: str) -> bool:
    """Read whether a machine is for hire. Raises Wrong."""
    word = text.strip() if text.strip() in YES | NO else normal(text)
    if word in YES:
        return True
    if word in NO:
        return False
    raise Wrong(_("“{cell}” is neither yes nor no.").format(cell=short(text)))


def is_yes_or_no(text: str) -> bool:
    """Whether a cell says yes or no."""
    return (text.strip() if text.strip() in YES | NO else normal(text)) in YES | NO


def condition(text: str) -> str:
    """Read where a machine works. Raises Wrong."""
    word = normal(text)
    by_label = {normal(str(each.label)): each.value for each in WorkingCondition}
    if found := (BY_WORD | by_label).get(word):
        return str(found)
    choices = ", ".join(str(each.label) for each in WorkingCondition)
    said = _("“{cell}” isn't one of our conditions: {choices}.")
    raise Wrong(said.format(cell=short(text), choices=choices))


def _exact(found: Decimal, figure: str, text: str, marks: Marks) -> Decimal:
    """The figure to a hundredth. Raises Wrong where it has more, or three that may be thousands."""
    ways = {read_marked(_bare(figure), mark) for mark in (POINT, COMMA)} - {None}
    if len(ways) > 1 and found.as_tuple().exponent == -3 and not marks.answered:
        if marks.decimal_open:
            return found.quantize(HUNDREDTH)
        said = _("“{cell}” can be read in two ways: write it without marks between thousands.")
        raise Wrong(said.format(cell=short(text)))
    rounded = found.quantize(HUNDREDTH)
    if rounded != found:
        raise Wrong(_("Give two figures after the point at most."))
    return rounded


def _bare(figure: str) -> str:
    return re.sub(r"[^\d.,]", "", figure)
