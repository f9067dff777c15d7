"""Jobs: my next one, then the others."""

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from servicing import workorders
from tests.factories import PartFactory
from tests.servicing.web.order_pages import NOW, TODAY, due

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_bench_shows_my_next_job_with_what_it_needs(farm, machine, duty, technician, order):
    with farm.scope():
        duty.task.tools.create(organisation=farm.organisation, tool="wrench", size="17 mm")
        duty.task.tools.create(organisation=farm.organisation, tool="wrench", size="12 mm")
        part = PartFactory(organisation=farm.organisation, name="Fan belt", in_stock=Decimal(0))
        duty.task.supplies.create(organisation=farm.organisation, part=part, quantity=1)
        later = due(machine, "Grease", TODAY)
        waiting = due(machine, "Filters", TODAY)
        nobody = due(machine, "Lamps", TODAY)
        for work, day, who in (
            (later, date(2026, 5, 9), technician),
            (waiting, TODAY, technician),
            (nobody, TODAY, None),
        ):
            made = workorders.plan(
                member=farm.manager, machine=machine, duties=[work], technician=who, planned_for=day
            )
            if work is waiting:
                workorders.hold(order=made, member=farm.technician, revision=1, reason="filter ordered")
    answer = farm.client("technician").get(reverse("bench"))
    assert answer.context["next"] == order
    assert [row.number for row in answer.context["mine"]] == [1, 2]
    assert [row.number for row in answer.context["on_hold"]] == [3]
    assert [(who, [row.number for row in rows]) for who, rows in answer.context["others"]] == [(None, [4])]
    page = answer.content.decode()
    assert "wrench 12, 17 mm" in page
    assert "Fan belt: 1 pc short" in page
    assert "filter ordered" in page


def test_bench_of_a_manager_shows_everybodys_jobs(farm, order, technician):
    answer = farm.client("manager").get(reverse("bench"))
    assert [(who, rows) for who, rows in answer.context["others"]] == [(technician, [order])]
    assert answer.context["chosen"] == order
    assert not answer.context["leads"], "a phone shows the list first"


class TestBeside:
    """A desk shows one order beside the list: the next, or the one asked for."""

    @pytest.fixture
    def second(self, farm, machine):
        with farm.scope():
            return workorders.plan(
                member=farm.manager,
                machine=machine,
                duties=[due(machine, "Grease", TODAY)],
                technician=None,
                planned_for=date(2026, 5, 9),
            )

    def ask(self, farm, order, role="technician"):
        return farm.client(role).get(reverse("bench"), {"order": order})

    def test_the_one_asked_for(self, farm, order, second):
        answer = self.ask(farm, second.pk)
        assert answer.context["chosen"] == second
        assert answer.context["leads"]
        assert [row.line.title for row in answer.context["sheet"].lines] == ["Grease"]
        page = answer.content.decode()
        assert f'href="?order={second.pk}" aria-current="true"' in page
        assert f'action="{reverse("order-start", args=[second.pk])}"' in page

    def test_on_hold_it_can_be_resumed(self, farm, order):
        workorders.hold(order=order, member=farm.technician, revision=1, reason="filter ordered")
        page = self.ask(farm, order.pk).content.decode()
        assert f'action="{reverse("order-resume", args=[order.pk])}"' in page
        assert "filter ordered" in page

    def test_one_that_is_not_on_the_list_leads_to_its_page(self, farm, order):
        with farm.scope():
            workorders.cancel(order=order, member=farm.manager, revision=1, reason="Sold")
        answer = self.ask(farm, order.pk)
        assert answer.status_code == 302
        assert answer["Location"] == order.get_absolute_url()

    @pytest.mark.parametrize("word", ["x", "0", "-1", "9" * 30, "1,2"])
    def test_none_of_that_number(self, farm, order, word):
        assert self.ask(farm, word).status_code == 404

    def test_a_strangers_is_not_found(self, farm, stranger, order):
        assert stranger.client("manager").get(reverse("bench"), {"order": order.pk}).status_code == 404
