"""What an owner sees of refused sign-ins, and letting a person in again."""

from datetime import timedelta

import pytest
import time_machine
from django.utils import timezone

from fleet.core.errors import FleetError, NotAllowed
from fleet.models import LetIn
from fleet.sign_in import lockouts
from tests.factories import MemberFactory
from tests.factories.fleet import PASSWORD

pytestmark = pytest.mark.security
PAGE = "/people/refused/"


def guess(enter, member, times=5, **typed):
    return [enter(name=member.user.username, **typed).status_code for _ in range(times)]


def test_the_owner_sees_who_when_from_where_how_often_and_until_when(farm, enter):
    with time_machine.travel("2026-05-04T10:00:00Z", tick=False):
        guess(enter, farm.technician, address="2001:db8:1:2::9")
        guess(enter, farm.counter, times=2)
        page = farm.client("owner").get(PAGE).content.decode()
    assert "2001:db8:1:2::/64" in page
    assert "192.0.2.1" in page
    with farm.scope():
        rows = {row.person: row for row in lockouts.of_organisation(member=farm.owner)}
    assert (rows[farm.technician].wrong, rows[farm.counter].wrong) == (5, 2)
    assert "waits until 12:15" in page  # the farm's clock: Europe/Madrid
    assert page.count("Let in again") == 1


def test_nothing_of_others_and_of_unknown_names_is_shown(farm, stranger, enter):
    guess(enter, stranger.owner, address="198.51.100.77")
    enter(name="a-secret-typed-here", address="198.51.100.78")
    page = farm.client("owner").get(PAGE).content.decode()
    assert "No sign-in was refused." in page
    assert "198.51.100" not in page


@pytest.mark.parametrize("role", ["manager", "technician", "counter"])
def test_only_an_owner_sees_and_lets_in(farm, role):
    assert farm.client(role).get(PAGE).status_code == 403
    assert farm.client(role).post(f"/people/{farm.owner.pk}/let-in/").status_code == 403
    with farm.scope(), pytest.raises(NotAllowed):
        lockouts.of_organisation(member=getattr(farm, role))
    with farm.scope(), pytest.raises(NotAllowed):
        lockouts.let_in(person=farm.technician, member=getattr(farm, role))


def test_a_person_is_let_in_at_once_whatever_others_did(farm, enter):
    guess(enter, farm.technician)
    for number in range(30):
        enter(name=f"nobody{number}")  # the address waits too
        enter(name=farm.technician.user.username, address=f"198.51.100.{number}")  # and the name is slowed
    assert guess(enter, farm.technician, 1, password=PASSWORD) == [429]
    answer = farm.client("owner").post(f"/people/{farm.technician.pk}/let-in/", follow=True)
    assert "can try again now." in answer.content.decode()
    assert guess(enter, farm.technician, 1, password=PASSWORD) == [302]
    with farm.scope():
        made = LetIn.objects.get()
    assert (made.person, made.by) == (farm.technician, farm.owner)


def test_being_let_in_is_no_licence_to_guess(farm, enter):
    with farm.scope():
        lockouts.let_in(person=farm.technician, member=farm.owner)
    assert guess(enter, farm.technician, 6) == [200, 200, 200, 200, 429, 429]


@pytest.mark.parametrize(("seconds", "status"), [(15 * 60 - 1, 302), (15 * 60, 429)])
def test_a_person_is_let_in_for_a_quarter_of_an_hour(farm, enter, seconds, status):
    with time_machine.travel(timezone.now(), tick=False) as clock:
        with farm.scope():
            lockouts.let_in(person=farm.technician, member=farm.owner)
        clock.shift(timedelta(seconds=seconds))
        for number in range(20):  # strangers slow the name
            enter(name=farm.technician.user.username, address=f"198.51.100.{number}")
        assert guess(enter, farm.technician, 1, password=PASSWORD) == [status]


def test_an_owner_can_t_guess_by_letting_in_over_and_over(farm):
    start = timezone.now()
    with farm.scope():
        for minute in range(5):
            lockouts.let_in(person=farm.manager, member=farm.owner, now=start + timedelta(minutes=minute))
        with pytest.raises(FleetError, match="new link"):
            lockouts.let_in(person=farm.manager, member=farm.owner, now=start + timedelta(hours=23))
        lockouts.let_in(person=farm.manager, member=farm.owner, now=start + timedelta(days=1))
        lockouts.let_in(person=farm.counter, member=farm.owner, now=start)


def test_who_signs_in_elsewhere_or_is_the_operator_is_let_in_by_the_operator(farm, stranger):
    MemberFactory(organisation=stranger.organisation, user=farm.technician.user)
    farm.counter.user.is_superuser = True
    farm.counter.user.save()
    with farm.scope():
        for person in (farm.technician, farm.counter):
            with pytest.raises(NotAllowed, match="only the operator"):
                lockouts.let_in(person=person, member=farm.owner)
        with pytest.raises(NotAllowed):
            lockouts.let_in(person=stranger.counter, member=farm.owner)
    assert farm.client("owner").post(f"/people/{stranger.counter.pk}/let-in/").status_code == 404
