"""Figures entered: all or none, none over another person's, and nothing falls due on another day by it."""

from decimal import Decimal as D

import pytest
from django_scopes import scopes_disabled

from fleet.core.errors import NotAllowed
from servicing import workorders
from servicing.duties.refresh import refresh_duties
from servicing.figures.entering import MOST_MINUTES, Figures, FiguresRefused, enter, refusals
from servicing.models import Duty
from tests.at_once import at_once
from tests.cast import build_house
from tests.factories import ProgramVersionFactory
from tests.servicing.figures.conftest import due_task, entered_nothing

ROWS = {
    "minutes": ("task", "minutes"),
    "costs": ("part", "unit_cost"),
    "rates": ("technician", "hourly_rate"),
    "prices": ("machine", "price"),
}
NONE = {"minutes": 0, "costs": 0, "rates": 0, "prices": None}


def of_all(lacking, *, minutes=25, money="12.50") -> Figures:
    return Figures(
        minutes={lacking.task.pk: minutes},
        **{
            kind: {getattr(lacking, row).pk: D(money)}
            for kind, (row, _column) in ROWS.items()
            if kind != "minutes"
        },
    )


def entered(lacking) -> dict[str, object]:
    with scopes_disabled():
        for row, _column in ROWS.values():
            getattr(lacking, row).refresh_from_db()
    return {kind: getattr(getattr(lacking, row), column) for kind, (row, column) in ROWS.items()}


def test_one_of_each_is_entered(in_farm, lacking):
    assert enter(member=in_farm.manager, figures=of_all(lacking)) == 4
    assert entered(lacking) == {kind: 25 if kind == "minutes" else D("12.50") for kind in ROWS}
    assert enter(member=in_farm.manager, figures=of_all(lacking)) == 0, "sent twice, entered once"
    assert enter(member=in_farm.manager, figures=Figures()) == 0


@pytest.mark.parametrize("role", ["technician", "counter"])
@pytest.mark.parametrize("kind", ROWS)
def test_who_may_not_is_refused(in_farm, lacking, role, kind):
    figures = Figures(**{kind: getattr(of_all(lacking), kind)})
    with pytest.raises(NotAllowed):
        enter(member=getattr(in_farm, role), figures=figures)
    assert entered(lacking) == NONE


def test_rows_of_another_organisation_are_not_there(in_farm, lacking, stranger):
    theirs = entered_nothing(stranger)
    with pytest.raises(FiguresRefused) as refused:
        enter(member=in_farm.owner, figures=of_all(theirs))
    assert set(refused.value.sentences.values()) == {"It isn't in use any more."}
    assert len(refused.value.sentences) == 4
    assert entered(theirs) == NONE


@pytest.mark.parametrize(
    ("kind", "value", "said"),
    [
        ("minutes", 0, "0 counts as not entered"),
        ("minutes", -5, "more than 0"),
        ("minutes", MOST_MINUTES + 1, "2400 minutes at most"),
        ("minutes", 10**30, "2400 minutes at most"),
        ("costs", D(0), "0 counts as not entered"),
        ("rates", D("-0"), "0 counts as not entered"),
        ("costs", D("-1"), "more than 0"),
        ("prices", D("-1"), "more than 0"),
        ("prices", D(10) ** 10, "ten figures before the point"),
        ("rates", D("1.005"), "two figures after the point"),
        ("costs", D("NaN"), "more than 0"),
        ("costs", D("Infinity"), "more than 0"),
    ],
)
def test_a_wrong_figure_keeps_all_out(in_farm, lacking, kind, value, said):
    pk = getattr(lacking, ROWS[kind][0]).pk
    figures = of_all(lacking)
    getattr(figures, kind)[pk] = value
    with pytest.raises(FiguresRefused) as refused:
        enter(member=in_farm.manager, figures=figures)
    assert list(refused.value.sentences) == [(kind, pk)]
    assert said in refused.value.sentences[kind, pk]
    assert entered(lacking) == NONE


@pytest.mark.parametrize(
    ("kind", "value"),
    [
        ("minutes", 1),
        ("minutes", MOST_MINUTES),
        ("costs", D("0.01")),
        ("prices", D("9999999999.99")),
        ("prices", D(0)),
    ],
)
def test_figures_at_the_limits(in_farm, lacking, kind, value):
    assert (
        enter(member=in_farm.manager, figures=Figures(**{kind: {getattr(lacking, ROWS[kind][0]).pk: value}}))
        == 1
    )
    assert entered(lacking)[kind] == value


def test_all_that_is_wrong_is_said(in_farm, lacking):
    assert set(refusals(member=in_farm.manager, figures=of_all(lacking, minutes=0, money="-1"))) == {
        (kind, getattr(lacking, row).pk) for kind, (row, _column) in ROWS.items()
    }
    assert refusals(member=in_farm.manager, figures=of_all(lacking)) == {}


def test_what_somebody_else_entered_meanwhile_stays(in_farm, lacking):
    enter(member=in_farm.owner, figures=of_all(lacking))
    with pytest.raises(FiguresRefused) as refused:
        enter(member=in_farm.manager, figures=of_all(lacking, minutes=30, money="9"))
    said = refused.value.sentences
    assert "25\u00a0min" in said["minutes", lacking.task.pk]
    assert "12.50" in said["costs", lacking.part.pk]
    assert len(said) == 4
    assert entered(lacking)["minutes"] == 25


def test_the_draft_gets_the_minutes_only_where_it_has_none(in_farm, lacking):
    other = ProgramVersionFactory(state="draft", program__organisation=in_farm.organisation)
    same_code = due_task(other, code="oil")
    kept = due_task(lacking.draft_task.version, code="belt", minutes=40)
    belt = due_task(lacking.version, code="belt")
    enter(member=in_farm.manager, figures=Figures(minutes={lacking.task.pk: 25, belt.pk: 30}))
    for task in (lacking.draft_task, kept, same_code, belt):
        task.refresh_from_db()
    assert (lacking.draft_task.minutes, kept.minutes, same_code.minutes, belt.minutes) == (25, 40, 0, 30)


def test_a_task_of_a_draft_or_of_a_retired_version_is_not_there(in_farm, lacking):
    retired = due_task(ProgramVersionFactory(program=lacking.version.program, number=3, state="retired"))
    figures = Figures(minutes={lacking.draft_task.pk: 25, retired.pk: 25})
    assert len(refusals(member=in_farm.manager, figures=figures)) == 2


def test_a_retired_machine_and_who_no_longer_works_are_not_there(in_farm, lacking):
    lacking.machine.retired_on = lacking.machine.in_service_on
    lacking.machine.save()
    in_farm.technician.active = False
    in_farm.technician.save()
    refused = refusals(member=in_farm.manager, figures=of_all(lacking))
    assert {kind for kind, _pk in refused} == {"rates", "prices"}


def test_nothing_falls_due_on_another_day_and_open_orders_follow(in_farm, lacking):
    refresh_duties(machine_ids=[lacking.machine.pk])
    lacking.machine.refresh_from_db()
    duty = Duty.objects.get(task=lacking.task)
    order = workorders.plan(member=in_farm.manager, machine=lacking.machine, duties=[duty])
    before = Duty.objects.filter(pk=duty.pk).values().get()
    enter(member=in_farm.manager, figures=of_all(lacking))
    assert Duty.objects.filter(pk=duty.pk).values().get() == before
    lacking.machine.refresh_from_db()
    assert lacking.machine.projection_wanted_at is None
    assert order.lines.get().task.minutes == 25
    revision = order.revision
    order.refresh_from_db()
    assert order.revision == revision, "nobody at work on it is told that it moved"


@pytest.mark.django_db(transaction=True)
def test_of_two_people_at_once_one_is_told(several_writers):
    house = build_house(name="Alder Farm", slug="alder-farm")
    lacking = entered_nothing(house)

    def entering(member, minutes):
        def work():
            with house.scope():
                try:
                    return enter(member=member, figures=Figures(minutes={lacking.task.pk: minutes}))
                except FiguresRefused:
                    return "told"

        return work

    answers = at_once(entering(house.owner, 25), entering(house.manager, 30))
    assert sorted(answers, key=str) == [1, "told"]
    assert entered(lacking)["minutes"] in (25, 30)
