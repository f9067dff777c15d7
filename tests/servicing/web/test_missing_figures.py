"""The page that asks for what was never entered."""

from html import unescape

import pytest
from django.urls import reverse

from servicing.figures.entering import Figures, enter
from servicing.web import missing_figures
from tests.factories import PartFactory, TechnicianFactory
from tests.sent_form import as_sent
from tests.servicing.figures.conftest import due_task, entered_nothing

PAGE = "/figures/"


@pytest.fixture
def lacking(farm):
    return entered_nothing(farm)


def said(answer, status=200):
    assert answer.status_code == status
    return unescape(answer.content.decode())


def named(lacking, *, minutes="", costs="", rates="", prices=""):
    return {
        f"minutes-{lacking.task.pk}": minutes,
        f"costs-{lacking.part.pk}": costs,
        f"rates-{lacking.technician.pk}": rates,
        f"prices-{lacking.machine.pk}": prices,
    }


def stands(farm, lacking):
    with farm.scope():
        for row in (lacking.task, lacking.part, lacking.technician, lacking.machine):
            row.refresh_from_db()
    return (
        lacking.task.minutes,
        str(lacking.part.unit_cost),
        str(lacking.technician.hourly_rate),
        lacking.machine.price,
    )


NOTHING = (0, "0.00", "0.00", None)


@pytest.mark.parametrize(
    ("role", "status"), [("owner", 200), ("manager", 200), ("technician", 403), ("counter", 403)]
)
def test_who_may_open_it(farm, lacking, role, status):
    assert farm.client(role).get(reverse("missing-figures")).status_code == status
    answer = farm.client(role).post(PAGE, named(lacking, minutes="25"))
    assert (answer.status_code, stands(farm, lacking)[0]) == ((302, 25) if status == 200 else (403, 0))


def test_each_has_its_field_with_its_unit(farm, lacking):
    page = said(farm.client("manager").get(PAGE))
    assert set(named(lacking)) <= set(as_sent(page, holding=f"minutes-{lacking.task.pk}"))
    for words in (
        "4 figures were never entered",
        "HX plan",
        "Change engine oil",
        "1 machine",
        "HX-1",
        "T-01",
    ):
        assert words in page
    currency = farm.organisation.currency
    for unit in ("min", f"{currency}/pc", f"{currency}/h", currency):
        assert f'<span class="unit">{unit}</span>' in page


def test_only_what_is_filled_in_is_saved(farm, lacking):
    client = farm.client("manager")
    answer = client.post(PAGE, named(lacking, minutes=" 25 ", costs="7,5"), follow=True)
    page = said(answer)
    assert "2 figures are saved." in page
    assert "2 figures were never entered" in page
    assert stands(farm, lacking) == (25, "7.50", "0.00", None)
    assert "Nothing was typed" in said(client.post(PAGE, named(lacking), follow=True))


def test_two_wrong_at_once_are_both_said_and_nothing_is_saved(farm, lacking):
    """One that can't be read, one that isn't allowed, and two that are right."""
    typed = named(lacking, minutes="7,5", costs="0", rates="41,50", prices="48 500")
    page = said(farm.client("manager").post(PAGE, typed), 422)
    assert page.count("Give whole minutes, like 25.") == 2, "above all, and beside its field"
    assert page.count("0 counts as not entered. Give more, or leave it empty.") == 2
    kept = as_sent(page, holding=f"minutes-{lacking.task.pk}")
    assert {name: kept[name] for name in typed} == {name: [value] for name, value in typed.items()}
    assert stands(farm, lacking) == NOTHING


@pytest.mark.parametrize(
    "junk", ["abc", "1e3", "1,204", "9" * 60, "9" * 39, "-5", "NaN", "１２x", "<b>1</b>", "\ud83d\ude9c"]
)
def test_junk_is_refused_beside_its_field(farm, lacking, junk):
    junk = junk.encode("utf-16", "surrogatepass").decode("utf-16")
    page = said(farm.client("manager").post(PAGE, named(lacking, minutes=junk, prices=junk)), 422)
    assert page.count("field-wrong") == 2
    assert stands(farm, lacking) == NOTHING


def test_what_somebody_else_entered_meanwhile_is_said_and_kept(farm, lacking):
    client = farm.client("manager")
    with farm.scope():
        enter(member=farm.owner, figures=Figures(minutes={lacking.task.pk: 25}))
    page = said(client.post(PAGE, named(lacking, minutes="30", rates="40")), 422)
    assert page.count("Somebody else has entered 25\u00a0min meanwhile. Empty this to keep that.") == 2
    assert as_sent(page, holding=f"minutes-{lacking.task.pk}")[f"minutes-{lacking.task.pk}"] == ["30"]
    assert stands(farm, lacking) == (25, *NOTHING[1:])
    assert client.post(PAGE, named(lacking, rates="40")).status_code == 302
    assert stands(farm, lacking) == (25, "0.00", "40.00", None)


def test_ids_of_another_organisation_are_as_unknown_as_those_of_nobody(farm, lacking, stranger):
    theirs = entered_nothing(stranger)
    typed = named(theirs, minutes="25", costs="1", rates="1", prices="1")
    page = said(farm.client("manager").post(PAGE, typed), 422)
    unknown = {f"{name.partition('-')[0]}-99999{number}": "25" for number, name in enumerate(typed)}
    nobodys = said(farm.client("manager").post(PAGE, unknown), 422)
    told = "4 figures you typed are for things that aren't in use any more. They are left out below."
    assert told in page
    assert told in nobodys
    assert stands(stranger, theirs) == NOTHING
    assert "T-01" in page, "the own ones are asked for"
    assert not set(typed) & set(as_sent(page, holding=f"minutes-{lacking.task.pk}"))


@pytest.mark.parametrize(
    "name",
    [
        "minutes-",
        "minutes-abc",
        "minutes--1",
        "minutes-01",
        "minutes-99999999999999999999999",
        "minutes-1-2",
        "hours-1",
        "title",
    ],
)
def test_names_that_are_no_fields_do_nothing(farm, lacking, name):
    assert farm.client("manager").post(PAGE, {name: "25"}).status_code == 302
    assert stands(farm, lacking) == NOTHING


def test_a_retired_machine_is_told_of_and_the_rest_can_be_saved(farm, lacking):
    with farm.scope():
        lacking.machine.retired_on = lacking.machine.in_service_on
        lacking.machine.save()
    client = farm.client("manager")
    page = said(client.post(PAGE, named(lacking, rates="40", prices="500")), 422)
    assert "1 figure you typed is for something that isn't in use any more." in page
    sent = as_sent(page, holding=f"rates-{lacking.technician.pk}")
    assert client.post(PAGE, sent).status_code == 302
    assert stands(farm, lacking) == (0, "0.00", "40.00", None)


def test_a_long_list_comes_in_pages(farm, lacking, monkeypatch):
    monkeypatch.setattr(missing_figures, "MOST", 4)
    with farm.scope():
        belt = due_task(lacking.version, title="Fan belt", position=9)
        later = [due_task(lacking.version, title="Grease", position=10 + n) for n in range(3)]
    client = farm.client("manager")
    page = said(client.get(PAGE))
    assert "8 figures were never entered" in page
    assert "4 more come after you save." in page
    assert "Fan belt" not in page
    # what a page of before showed isn't among the first any more: it counts all the same
    answer = client.post(PAGE, {f"minutes-{later[2].pk}": "15", f"minutes-{belt.pk}": "5"})
    assert answer.status_code == 302
    with farm.scope():
        belt.refresh_from_db()
    assert belt.minutes == 5


def test_when_nothing_is_missing_it_says_so(farm):
    page = said(farm.client("owner").get(PAGE))
    assert "No figure is missing." in page
    assert "data-keep" not in page


@pytest.mark.parametrize("name", ["parts", "technicians", "machines"])
def test_lists_lead_to_it_where_a_figure_is_missing(farm, name):
    href = f'href="{PAGE}"'
    PartFactory(organisation=farm.organisation)
    TechnicianFactory(member=farm.technician)
    farm.machine(price=1)
    assert href not in said(farm.client("manager").get(reverse(name)))
    PartFactory(organisation=farm.organisation, unit_cost=0)
    TechnicianFactory(member__organisation=farm.organisation, hourly_rate=0)
    farm.machine()
    assert href in said(farm.client("manager").get(reverse(name)))
    if name != "technicians":
        assert href not in said(farm.client("technician").get(reverse(name)))
