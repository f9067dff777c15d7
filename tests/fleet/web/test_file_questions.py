"""What a page asks about a file of readings before anything counts, in both languages."""

from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from fleet import readings
from fleet.imports import uploads
from fleet.imports.first_readings import Course
from fleet.models import RejectedRow, SentFile
from fleet.web.first_pictures import pictures
from tests.fleet.web.rows import all_readings, sent_file, text_of

FIRST = (
    "Unit;Date;km;Betriebsstunden\n"
    "T-01;2026-01-05;8000;10\nT-01;2026-01-12;8100;31,5\nT-02;2026-01-12;900;4\n"
)


@pytest.fixture(autouse=True)
def kept_apart(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def machines(farm):
    """T-01 and T-02, never read, and T-04, which showed 1251 h on 1 February."""
    with farm.scope():
        made = [farm.machine(tag=tag) for tag in ("T-01", "T-02", "T-04")]
        row = readings.Submitted(made[2].pk, datetime(2026, 2, 1, 12, tzinfo=UTC), 1251)
        readings.take(organisation=farm.organisation, rows=[row], source="page", sender="page")
    return made


def page_of(house, text, **facts):
    """A browser of the manager, the address of the page of a file that waits, and the file."""
    with house.scope():
        sent = sent_file(house, text, **facts)
    return house.client("manager"), f"/readings/files/{sent.pk}/", sent


def shown(client, address):
    """What the page's form would send as it stands."""
    form = client.get(address).context["form"]
    values = {name: form[name].value() for name in form.fields}
    return {name: value for name, value in values.items() if value is not None and value is not False}


def test_first_readings_are_pictured_and_confirmed_before_they_count(farm, machines):
    client, address, sent = page_of(farm, FIRST)
    page = client.get(address)
    text = text_of(page)
    assert "First readings of these machines" in text
    assert text.count('class="first-picture"') == 2
    assert "<polyline points=" in text
    assert "10.0 h" in text
    assert "31.5 h" in text
    chosen = shown(client, address)
    assert (chosen["hours"], "first" in chosen) == (3, False)
    refused = client.post(address, {**chosen, "do": "take"})
    assert refused.status_code == 422
    assert "Look at the pictures, and confirm them or choose another column." in text_of(refused)
    assert client.post(address, {**chosen, "first": "on", "do": "take"}).status_code == 302
    with farm.scope():
        uploads.run(sent.pk)
    assert [str(reading.shows) for reading in all_readings()[1:]] == ["10.00", "31.50", "4.00"]


def test_without_a_confirmation_a_worker_counts_none_of_them(farm, machines):
    """Whatever a page or a program sends: a machine that was never read keeps its question."""
    _client, _address, sent = page_of(farm, FIRST)
    with farm.scope():
        plan = uploads.plan_of(sent)
        uploads.start(sent=sent, plan=replace(plan, asks=()), member=farm.manager)
        uploads.run(sent.pk)
        reasons = set(RejectedRow.objects.values_list("reason", flat=True))
    assert len(all_readings()) == 1
    assert reasons == {
        f"{tag} has no reading yet, and nobody confirmed that this is its meter." for tag in ("T-01", "T-02")
    }


def test_what_falls_is_said_beside_the_picture(farm, machines):
    text = "Unit;Date;Betriebsstunden\nT-01;2026-01-05;10\nT-01;2026-01-12;9\nT-01;2026-01-19;12\n"
    client, address, _sent = page_of(farm, text)
    client_text = text_of(client.post(address, {**shown(client, address), "hours": 2, "do": "look"}))
    assert "doesn't rise as a meter does" in client_text


def test_the_preview_shows_the_headings_as_they_stand_and_what_would_count(farm, machines):
    client, address, _sent = page_of(
        farm,
        "Liste;;\nKennz.;Gelesen am;Zählerstand (h)\nt 4;2026-02-08;1.262,5\nT-9;2026-02-08;7\n;Summe;9\n",
    )
    page = client.get(address)
    text = text_of(page)
    assert page.context["names"] == ["Kennz.", "Gelesen am", "Zählerstand (h)"]
    for heading in page.context["names"]:
        assert f'<th scope="col">{heading}</th>' in text
    assert "1 262.5 h" in text
    assert "No machine here has the fleet number or serial number 'T-9'." in text
    assert "This row is a total, not a reading." in text
    assert text.index("Which column is which") < text.index("Gelesen am</th>") < text.index('value="take"')
    assert "First readings" not in text


def test_between_two_columns_a_person_chooses_by_their_first_cells(farm, machines):
    client, address, sent = page_of(
        farm, "Unit;Date;Start;End\nT-04;2026-02-08;1255;1262,5\nT-04;2026-02-09;1262,5;1270\n"
    )
    page = client.get(address)
    text = text_of(page)
    assert page.context["told"] == []
    assert "Which column is what the hour meter showed?" in text
    assert "looks like the hours at the start" in text
    assert "1255 · 1262,5" in text
    assert 'value="take"' not in text
    taken = client.post(address, {**shown(client, address), "hours": 3, "do": "take"})
    assert taken.status_code == 200  # other columns than the page showed: it is looked at first
    assert "1 270.0 h" in text_of(taken)
    assert len(all_readings()) == 1
    form = taken.context["form"]
    chosen = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    assert client.post(address, {**chosen, "do": "take"}).status_code == 302
    with farm.scope():
        uploads.run(sent.pk)
    assert [str(reading.shows) for reading in all_readings()[1:]] == ["1262.50", "1270.00"]


def test_a_column_headed_as_hours_that_does_not_go_on_is_named_with_why(farm, machines):
    written = "Unit;Date;km;Hours\nT-04;2026-02-08;14332;12,5\nT-04;2026-02-09;14350;20\n"
    client, address, _sent = page_of(farm, written)
    text = text_of(client.get(address))
    assert "Which column is what the hour meter showed?" in text
    assert "12,5 · 20" in text
    assert "headed as hours, but its figures don" in text
    assert 'value="take"' not in text


def test_a_year_a_day_blanks_and_mixed_orders_are_asked(farm, machines):
    cases = {
        "year": ("Unit;Date;Meter\nT-04;8 Feb;1262,5\n", {"year": 2026}, "Of which year"),
        "within": ("Unit;Date;Meter\nT-04;Feb 2026;1262,5\n", {"within": "last"}, "Of which day"),
        "above": (
            "Unit;Date;Meter\nT-04;2026-02-08;1262,5\n;2026-02-28;1270\n",
            {"above": "yes"},
            "Is it that of the row above?",
        ),
        "order": (
            "Unit;Date;Meter\nT-04;25/02/2026;1262,5\nT-04;02/26/2026;1263\nT-04;03/02/2026;1252\n",
            {"order": "dmy"},
            "Some dates can only have the day first, others only the month.",
        ),
    }
    for field, (text, answer, question) in cases.items():
        client, address, _sent = page_of(farm, text, name=f"{field}.csv")
        page = client.get(address)
        assert page.context["told"] == [], field
        assert question in text_of(page), field
        refused = client.post(address, {**shown(client, address), "do": "take"})
        assert refused.status_code == 422, field
        assert list(refused.context["form"].errors) == [field]
        looked = client.post(address, {**shown(client, address), **answer, "do": "look"})
        told = looked.context["told"]
        assert {each.state for each in told} <= {"counted", "held"}, (field, [each.reason for each in told])
    assert len(all_readings()) == 1


def test_a_file_that_waited_since_before_still_asks(farm, machines):
    """What was kept of it names no questions: they are told by its first rows."""
    client, address, sent = page_of(farm, FIRST)
    old = ("machine", "taken_at", "hours", "time", "note", "heading", "order", "decimal")
    with farm.scope():
        SentFile.objects.update(plan={name: sent.plan[name] for name in old}, firsts=[])
    assert "First readings of these machines" in text_of(client.get(address))
    refused = client.post(address, {**shown(client, address), "do": "take"})
    assert list(refused.context["form"].errors) == ["first"]


def test_the_questions_are_asked_in_german(farm, machines):
    farm.manager.user.language = "de"
    farm.manager.user.save()
    client, address, _sent = page_of(farm, "Unit;Date;Start;End\nT-04;8 Feb;1255;1262,5\nT-01;9 Feb;1;2\n")
    text = text_of(client.get(address))
    assert "Welche Spalte ist der Stand des Stundenzählers?" in text
    assert "Aus welchem Jahr sind die Daten, die keines nennen?" in text
    assert "sieht nach den Stunden am Anfang aus" in text
    client, address, _sent = page_of(farm, FIRST)
    text = text_of(client.get(address))
    assert "Erste Ablesungen dieser Maschinen" in text
    assert "Ja, das sind die Stunden, die die Zähler dieser Maschinen zeigten" in text
    for english in ("First readings", "Which column", "How the first rows"):
        assert english not in text


def test_several_readings_of_one_line_are_rejected_each(farm, machines):
    _client, _address, sent = page_of(farm, "Date;T-04;T-98;T-99\n2026-02-08;1262,5;1;2\n")
    with farm.scope():
        uploads.start(sent=sent, plan=uploads.plan_of(sent).confirmed(), member=farm.manager)
        uploads.run(sent.pk)
        sent.refresh_from_db()
        rejected = list(RejectedRow.objects.values_list("line", "place", "cells"))
        rows = list(uploads.rejects(sent))
    assert (sent.state, sent.counted, sent.refused) == ("done", 1, 2)
    assert [(line, place) for line, place, _cells in rejected] == [(2, 2), (2, 3)]
    assert rows[0] == ["line", "reason", "Date", "Hours", "Machine"]
    assert [row[2:] for row in rows[1:]] == [["2026-02-08", "1", "T-98"], ["2026-02-08", "2", "T-99"]]


def test_a_picture_of_one_figure_and_of_figures_that_stand_still():
    day = datetime(2026, 5, 2, 12, tzinfo=UTC)
    one, still = pictures(
        [
            Course("T-01", [(day, Decimal(7))], falls=False),
            Course("T-02", [(day, Decimal(7)), (day.replace(day=9), Decimal(7))], falls=False),
        ]
    )
    assert one.dots == [(48.0, 15.0)]
    assert still.dots == [(3.0, 15.0), (93.0, 15.0)]
    assert pictures([Course("T-03", [], falls=False)]) == []
