"""When a task falls due and what it is for, in the reader's language."""

import re
from decimal import Decimal

import pytest

from fleet.core.languages import spoken_to
from fleet.models import User
from servicing.models import Interval
from servicing.programs.wording import in_sentence, interval, rhythm

ENGLISH, GERMAN = User(language="en-gb"), User(language="de")
CASES = [
    (
        {"every_hours": Decimal(100), "anchor": "marks"},
        "every 100 h, on a fixed schedule",
        "alle 100 h, nach festem Plan",
    ),
    (
        {"first_hours": Decimal("12.50"), "every_hours": Decimal(100), "every_months": 6, "anchor": "done"},
        "first at 12.5 h, then every 100 h or 6 months, counted from when it was last done",
        "erstmals bei 12,5 h, dann alle 100 h oder 6 Monate, ab dem letzten Mal gezählt",
    ),
    (
        {"every_months": 12, "anchor": "marks", "condition": "dust"},
        "in dust: every 12 months, on a fixed schedule",
        "bei Staub: alle 12 Monate, nach festem Plan",
    ),
    ({"first_hours": Decimal(50), "once": True}, "once, at 50 h", "einmalig, bei 50 h"),
    ({"first_months": 1, "once": True}, "once, after 1 month", "einmalig, nach 1 Monat"),
    (
        {"first_hours": Decimal(50), "first_months": 3, "once": True},
        "once, at 50 h or after 3 months",
        "einmalig, bei 50 h oder nach 3 Monaten",
    ),
]


@pytest.mark.parametrize(("values", "english", "german"), CASES)
def test_an_interval_is_said_as_one_sentence(values, english, german):
    for reader, said in ((ENGLISH, english), (GERMAN, german)):
        with spoken_to(reader):
            assert interval(Interval(**values)).replace("\u00a0", " ") == said
            row = {"condition": "normal", "once": False, "first_hours": None, "every_hours": None}
            assert interval({**row, "first_months": None, "every_months": None, **values}) == interval(
                Interval(**values)
            )


@pytest.mark.parametrize(("values", "english", "german"), CASES)
def test_its_rhythm_is_the_same_without_what_it_is_counted_from(values, english, german):
    counted = re.compile(", (on a fixed|counted|nach festem|ab dem).*")
    for reader, said in ((ENGLISH, english), (GERMAN, german)):
        with spoken_to(reader):
            assert rhythm(Interval(**values)).replace("\u00a0", " ") == counted.sub("", said)


def test_nouns_keep_their_capital_in_german():
    for reader, said in ((ENGLISH, "front loader, cab"), (GERMAN, "Front loader, Cab")):
        with spoken_to(reader):
            assert in_sentence(["Front loader", "Cab"]) == said
