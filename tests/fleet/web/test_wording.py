"""Days, ranges and plurals as they stand on pages."""

import re
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.conf import settings

from fleet.core.wording import day, day_range, likely_days

NOV, DEC, JAN, FEB = date(2026, 11, 29), date(2026, 12, 7), date(2027, 1, 5), date(2027, 2, 7)
PAST, AUTUMN = date(2025, 11, 29), date(2027, 11, 1)
pytestmark = pytest.mark.time_machine(datetime(2026, 11, 20, 9, tzinfo=UTC), tick=False)


def plain(text):
    return text.replace("\xa0", " ")


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        (NOV, NOV, "Sun 29 Nov"),
        (NOV, DEC, "Sun 29 Nov to 7 Dec"),
        (DEC, JAN, "7 Dec to 5 Jan"),
        (JAN, JAN, "5 Jan 2027"),
        (JAN, FEB, "5 Jan to 7 Feb 2027"),
        (NOV, AUTUMN, "Sun 29 Nov to 1 Nov 2027"),
        (PAST, DEC, "29 Nov 2025 to 7 Dec"),
        (NOV, None, "Sun 29 Nov to beyond 3 years"),
    ],
)
def test_a_range_of_one_day_is_that_day(first, last, said):
    assert plain(day_range(first, last)) == said


@pytest.mark.parametrize(
    ("number", "said"),
    [(3, "3 Nov"), (6, "Fri 6 Nov"), (20, "Fri 20 Nov"), (34, "Fri 4 Dec"), (35, "5 Dec")],
)
def test_a_day_within_two_weeks_is_said_with_its_weekday(number, said):
    assert plain(day(date(2026, 11, 1) + timedelta(days=number - 1))) == said


@pytest.mark.parametrize(
    ("days", "said"),
    [
        ((NOV, NOV, NOV), "Sun 29 Nov"),
        ((NOV, DEC, JAN), "7 Dec (29 Nov to 5 Jan)"),
        ((NOV, NOV, DEC), "Sun 29 Nov (29 Nov to 7 Dec)"),
        ((NOV, DEC, None), "7 Dec (29 Nov to beyond 3 years)"),
        ((NOV, None, None), "more than 3 years away (29 Nov to beyond 3 years)"),
    ],
)
def test_a_likely_day_has_its_range_beside_it_unless_it_is_certain(days, said):
    projected = SimpleNamespace(**dict(zip(("early", "likely", "late"), days, strict=True)))
    assert plain(likely_days(projected)) == said


def test_no_template_writes_a_range_or_a_plural_by_itself():
    """`pluralize:" is, s are"` makes "2 value s"; a range is written by `day_range` and `likely_days`."""
    templates = sorted(Path(settings.BASE_DIR, "templates").rglob("*.html"))
    assert len(templates) > 80
    for template in templates:
        text = template.read_text()
        for options in re.findall(r'\|pluralize:"([^"]*)"', text):
            assert not re.search(r", ", options), (template.name, options)
        assert not re.search(r"\|day \}\} to \{\{", text), template.name
