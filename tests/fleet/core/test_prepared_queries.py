"""Prepared queries find what built ones find. They are written once where DATABASE_URL names a PostgreSQL."""

from decimal import Decimal

import pytest
from django.db import connection
from django.db.models import F
from django.db.models.functions import JSONArray, Lower

from fleet.core.prepared_queries import prepared, prepared_update
from fleet.models import Machine


@pytest.fixture
def machines(in_farm):
    return [in_farm.machine(tag=f"M-{n}", hours=n * 10) for n in range(4)]


def ids(machines):
    return [machine.pk for machine in machines]


def test_other_values_find_other_rows(machines):
    @prepared
    def by_tag(tags, over):
        found = Machine.objects.annotate(low=Lower("tag")).filter(low__among=tags, hours__gt=over)
        return found.order_by("tag").values_list("pk", "hours", JSONArray("tag", "hours"))

    def rows(*machines):
        return [(each.pk, each.hours, [each.tag, float(each.hours)]) for each in machines]

    assert by_tag(tags=["m-1", "m-2", "m-3"], over=Decimal(10)) == rows(*machines[2:])
    assert by_tag(tags=["m-1", "m-0"], over=Decimal("-0.5")) == rows(*machines[:2])
    assert by_tag(tags=[], over=Decimal(0)) == []


def test_values_are_no_sql(machines):
    @prepared
    def named(tag):
        return Machine.objects.filter(tag=tag).values_list("pk")

    assert named(tag="M-1' OR 'a' = 'a") == []
    assert named(tag="%s") == []
    assert named(tag="M-1") == [(machines[1].pk,)]


def test_it_is_written_once(machines, django_assert_num_queries):
    built = []

    @prepared
    def among(machines):
        built.append(machines)
        return Machine.objects.filter(pk__among=machines).order_by("pk").values_list("pk")

    for some in (machines, machines[:1], machines[2:]):
        with django_assert_num_queries(1):
            assert among(machines=ids(some)) == [(pk,) for pk in ids(some)]
    assert len(built) == (1 if connection.vendor == "postgresql" else 3)


def test_one_organisations_question_is_not_asked_for_another(machines, in_farm, stranger):
    theirs = stranger.machine(tag="X-1")

    @prepared
    def own(organisation):
        return Machine.objects.filter(organisation=organisation).order_by("pk").values_list("pk")

    assert own(organisation=in_farm.organisation.pk) == [(pk,) for pk in ids(machines)]
    assert own(organisation=stranger.organisation.pk) == [(theirs.pk,)]


def test_an_update_sets_what_it_is_given(machines):
    @prepared_update
    def add(machines, more):
        return Machine.objects.filter(pk__among=machines), {"hours": F("hours") + more, "note": "moved"}

    add(machines=ids(machines[:2]), more=Decimal("2.5"))
    add(machines=ids(machines[1:2]), more=Decimal(1))
    assert list(Machine.objects.order_by("pk").values_list("hours", "note")) == [
        (Decimal("2.5"), "moved"),
        (Decimal("13.5"), "moved"),
        (20, ""),
        (30, ""),
    ]
