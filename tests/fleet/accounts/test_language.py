"""Everybody is spoken to in the language they chose, else in what their browser asks for."""

import csv
import io
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.urls import reverse
from django.utils import timezone, translation

from fleet.core import languages, wording
from fleet.core.languages import spoken_to
from fleet.core.number_reader import read_typed
from fleet.models import User
from fleet.usage import figures

GERMAN = {"HTTP_ACCEPT_LANGUAGE": "de-AT,de;q=0.9,en;q=0.8"}
CHOSEN = {"language": "", "decimal_mark": "", "days_written": ""}


def chooses(member, **chosen):
    User.objects.filter(pk=member.user_id).update(**chosen)
    member.user.refresh_from_db()


def language_of(answer):
    return answer.headers["Content-Language"]


def test_a_page_comes_in_the_language_the_browser_asks_for(farm):
    client = farm.client("owner")
    assert language_of(client.get("/account/")) == "en-gb"
    assert language_of(client.get("/account/", **GERMAN)) == "de"
    assert '<html lang="de"' in client.get("/account/", **GERMAN).content.decode()
    assert "Accept-Language" in client.get("/account/").headers["Vary"]


def test_a_language_we_do_not_speak_is_answered_in_the_installations_own(farm, settings):
    assert language_of(farm.client("owner").get("/account/", HTTP_ACCEPT_LANGUAGE="ga")) == "en-gb"
    settings.LANGUAGE_CODE = "de"
    assert language_of(farm.client("owner").get("/account/", HTTP_ACCEPT_LANGUAGE="ga")) == "de"


@pytest.mark.parametrize("asked", ["de;q=x", "\x00", "x" * 5000, "*", "de_DE.UTF-8", ""])
def test_a_strange_header_is_no_reason_to_fail(farm, asked):
    assert language_of(farm.client("owner").get("/account/", HTTP_ACCEPT_LANGUAGE=asked)) in ("en-gb", "de")


def test_what_a_member_chose_goes_before_the_browsers(farm):
    chooses(farm.owner, language="en-gb")
    assert language_of(farm.client("owner").get("/account/", **GERMAN)) == "en-gb"
    chooses(farm.owner, language="de")
    assert language_of(farm.client("owner").get("/account/")) == "de"
    assert language_of(farm.client("manager").get("/account/")) == "en-gb"


def test_nobody_is_left_in_the_language_of_the_one_before(farm):
    chooses(farm.owner, language="de", days_written="ISO")
    farm.client("owner").get("/account/")
    assert translation.get_language() == "en-gb"
    assert figures.writing() == figures.Writing()


def test_the_sign_in_page_speaks_the_browsers_language(client, db):
    assert "Anmelden" in client.get("/sign-in/", **GERMAN).content.decode()
    assert "Sign in" in client.get("/sign-in/").content.decode()


def test_the_api_refuses_in_the_language_of_the_tokens_person(farm):
    machine = farm.machine(tag="T-07")
    sent = {"machine": machine.tag, "meter": "-5", "taken_at": "yesterday"}
    in_english = farm.api("manager").post("/api/v1/readings", sent).json()
    chooses(farm.manager, language="de")
    answer = farm.api("manager").post("/api/v1/readings", sent)
    assert language_of(answer) == "de"
    assert answer.json() != in_english
    assert answer.json().keys() == in_english.keys()


def test_a_program_writes_a_point_whosever_token_it_has(farm):
    machine = farm.machine(tag="T-07")
    chooses(farm.manager, language="de")
    sent = {"machine": machine.tag, "meter": "1.12", "taken_at": timezone.now().isoformat()}
    answer = farm.api("manager").post("/api/v1/readings", sent)
    assert answer.status_code in (200, 201), answer.content
    with farm.scope():
        machine.refresh_from_db()
        assert machine.hours == Decimal("1.12")


def test_hours_that_could_mean_two_things_are_asked_about_in_ones_own_way_of_writing(farm):
    machine = farm.machine(tag="T-07")
    client = farm.client("technician")
    for mark, asked in ((".", "1,204"), (",", "1.204")):
        chooses(farm.technician, decimal_mark=mark)
        answer = client.post("/readings/new/", {"machine": machine.pk, "shows": asked})
        assert answer.status_code == 422
        assert "can be read in two ways" in answer.content.decode()


def test_a_choice_is_kept_and_said_in_it(farm):
    client = farm.client("technician")
    german = CHOSEN | {"language": "de", "days_written": "day first"}
    answer = client.post("/account/language/", german, follow=True)
    farm.technician.user.refresh_from_db()
    assert (farm.technician.user.language, farm.technician.user.days_written) == ("de", "day first")
    assert f"{timezone.now():%Y}, 1\u202f204,5\u00a0h" in answer.content.decode()
    client.post("/account/language/", CHOSEN)
    farm.technician.user.refresh_from_db()
    assert farm.technician.user.language == ""


@pytest.mark.parametrize("wrong", [{"language": "tlh"}, {"decimal_mark": ";"}, {"days_written": "never"}])
def test_a_choice_that_is_none_is_refused_and_nothing_changes(farm, wrong):
    chooses(farm.owner, language="de", decimal_mark=",", days_written="ISO")
    answer = farm.client("owner").post("/account/language/", CHOSEN | wrong)
    assert answer.status_code == 422
    assert answer.context["language_form"].errors.keys() == set(wrong)
    farm.owner.user.refresh_from_db()
    chosen = farm.owner.user
    assert (chosen.language, chosen.decimal_mark, chosen.days_written) == ("de", ",", "ISO")


def test_a_language_that_was_not_compiled_cannot_be_had(farm, settings, tmp_path):
    chooses(farm.owner, language="de")
    settings.LOCALE_PATHS = [tmp_path]
    assert languages.spoken() == [("en-gb", "English")]
    assert language_of(farm.client("owner").get("/account/", **GERMAN)) == "en-gb"
    assert [problem.level for problem in languages.check_catalogues()] == [30]
    settings.LANGUAGE_CODE = "de"
    assert [problem.level for problem in languages.check_catalogues()] == [40]


def test_all_catalogues_are_compiled():
    assert languages.missing() == []
    assert languages.check_catalogues() == []


# Days: DIN 5008 has "3. Mai 2026" for the form in letters, ISO 8601 "2026-05-03"; both from memory.
@pytest.mark.parametrize(
    ("chosen", "short", "long", "in_may", "hours"),
    [
        ({}, "3\u00a0May 2026", "Sunday 3 May", "May 2026", "1\u202f204.5\u00a0h"),
        ({"language": "de"}, "3.\u00a0Mai 2026", "Sonntag, 3. Mai", "Mai 2026", "1\u202f204,5\u00a0h"),
        (
            {"days_written": "month first"},
            "May\u00a03, 2026",
            "Sunday May 3",
            "May 2026",
            "1\u202f204.5\u00a0h",
        ),
        ({"days_written": "ISO"}, "2026-05-03", "Sunday 2026-05-03", "May 2026", "1\u202f204.5\u00a0h"),
        ({"decimal_mark": ","}, "3\u00a0May 2026", "Sunday 3 May", "May 2026", "1\u202f204,5\u00a0h"),
        (
            {"language": "de", "decimal_mark": ".", "days_written": "month first"},
            "Mai\u00a03, 2026",
            "Sonntag, Mai 3",
            "Mai 2026",
            "1\u202f204.5\u00a0h",
        ),
    ],
)
def test_days_and_figures_are_written_as_chosen(chosen, short, long, in_may, hours):
    day = date(2026, 5, 3)
    with spoken_to(User(**chosen)):
        assert wording.day_of_year(day) == short
        assert wording.day_in_full(day) == long
        assert wording.month_of_year(day) == in_may
        assert wording.hours(Decimal("1204.5")) == hours
        assert read_typed(wording.figure(Decimal("1204.5"), 1)) == Decimal("1204.5")


@time_machine.travel(datetime(2026, 11, 29, 12, tzinfo=ZoneInfo("UTC")))
def test_a_range_says_a_year_once_in_every_order():
    first, last = date(2027, 2, 1), date(2027, 2, 9)
    for chosen, said in [
        ("day first", "1\u00a0Feb to 9\u00a0Feb 2027"),
        ("month first", "Feb\u00a01 to Feb\u00a09, 2027"),
        ("ISO", "2027-02-01 to 2027-02-09"),
    ]:
        with spoken_to(User(days_written=chosen)), timezone.override("UTC"):
            assert wording.day_range(first, last) == said


def test_files_have_the_members_separators(farm):
    address = f"{reverse('ledger')}?format=csv"
    chooses(farm.owner, decimal_mark=",")
    farm.machine(tag="T-07")
    with_comma = farm.client("owner").get(address).content.decode("utf-8-sig")
    rows = list(csv.reader(io.StringIO(with_comma), delimiter=";"))
    assert len({len(row) for row in rows}) == 1
    assert len(rows[0]) > 10
    assert any("," in cell and cell.replace(",", "").isdigit() for cell in rows[1])
    chooses(farm.owner, decimal_mark="")
    with_point = farm.client("owner").get(address).content.decode("utf-8-sig")
    plain = list(csv.reader(io.StringIO(with_point)))
    assert [[cell.replace(",", ".") for cell in row] for row in rows[1:]] == plain[1:]


def test_nobody_is_looked_up_to_say_that_the_web_server_lives(farm, django_assert_num_queries):
    client = farm.client("owner")
    with django_assert_num_queries(1) as asked:
        assert client.get("/health/web").status_code == 200
    assert asked[0]["sql"] == "SELECT 1"
