"""What isn't needed of the first steps, and when their list is closed: who may say so, and twice over."""

import pytest

from fleet.accounts import setup
from fleet.core.errors import FleetError, NotAllowed
from fleet.models import Organisation, SetupStep
from tests.cast import build_house


@pytest.fixture
def house(db):
    return build_house(set_up_at=None)


def closed(house):
    return Organisation.objects.get(pk=house.organisation.pk).set_up_at


def test_the_first_who_waves_a_step_off_is_remembered(house):
    with house.scope():
        setup.wave_off(step="yards", member=house.manager)
        setup.wave_off(step="yards", member=house.owner)
        assert SetupStep.objects.get().waved_off_by == house.manager
        setup.take_up(step="yards", member=house.owner)
        setup.take_up(step="yards", member=house.owner)
        assert not SetupStep.objects.exists()


def test_another_organisations_steps_stay(house, stranger):
    for each in (house, stranger):
        with each.scope():
            setup.wave_off(step="hours", member=each.owner)
    with house.scope():
        setup.take_up(step="hours", member=house.owner)
    with stranger.scope():
        assert SetupStep.objects.get().step == "hours"


@pytest.mark.parametrize("step", ["", "YARDS", "roof", "x" * 400])
@pytest.mark.parametrize("decide", [setup.wave_off, setup.take_up])
def test_there_is_no_other_step(house, step, decide):
    with house.scope(), pytest.raises(FleetError, match="no such step") as refused:
        decide(step=step, member=house.owner)
    assert refused.value.field == "step"


@pytest.mark.parametrize(
    ("role", "step", "may"),
    [
        ("owner", "people", True),
        ("manager", "people", False),
        ("manager", "programs", True),
        ("technician", "programs", False),
        ("counter", "yards", False),
    ],
)
def test_who_may_do_a_step_may_wave_it_off(house, role, step, may):
    with house.scope():
        if may:
            setup.wave_off(step=step, member=getattr(house, role))
        else:
            with pytest.raises(NotAllowed):
                setup.wave_off(step=step, member=getattr(house, role))
        assert SetupStep.objects.exists() is may


def test_the_list_is_closed_once_and_shown_again(house):
    with house.scope():
        assert setup.close(member=house.manager)
        first = closed(house)
        assert not setup.close(member=house.owner)
        assert closed(house) == first
        setup.reopen(member=house.owner)
        assert closed(house) is None


def test_closing_is_for_this_organisation_alone(house):
    other = build_house(set_up_at=None)
    with house.scope():
        setup.close(member=house.owner)
    assert closed(other) is None


@pytest.mark.parametrize("decide", [setup.close, setup.reopen])
@pytest.mark.parametrize("role", ["technician", "counter"])
def test_those_who_only_use_the_machines_dont_decide(house, role, decide):
    with house.scope(), pytest.raises(NotAllowed):
        decide(member=getattr(house, role))
