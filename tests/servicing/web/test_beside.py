"""A wide screen shows one machine beside the list of machines, and one unit beside the gate's."""

from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from servicing import workorders
from tests.factories import AttachmentFactory, FaultFactory, YardFactory
from tests.servicing.gate.hire_units import NOW, duty_of
from tests.servicing.web.gate_pages import duty, hire, tag_out, unit

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def beside(house, machine=None, *, path="/machines/", role="owner", **asked):
    """The part beside the list, after a machine was chosen or none."""
    if machine is not None:
        asked["beside"] = machine.pk
    answer = house.client(role).get(path, asked)
    assert answer.status_code == 200
    page = answer.content.decode().replace("\xa0", " ")
    return page.split('<section class="beside"')[1].split("</section>")[0]


class TestMachines:
    def test_the_most_urgent_until_one_is_chosen(self, farm):
        duty(unit(farm, "T-01"), 150, task__title="Fan belt", likely=date(2026, 6, 1))
        duty(unit(farm, "T-02"), 90, task__title="Engine oil")
        assert ">T-02</a>" in beside(farm)
        assert "Engine oil" in beside(farm)

    def test_the_one_chosen_with_what_is_due_and_what_is_being_done(self, farm, technician):
        machine = unit(farm, "T-01")
        late = duty(machine, 90, task__title="Engine oil", likely=date(2026, 5, 2))
        duty(machine, 150, task__title="Fan belt", likely=date(2026, 6, 1))
        duty(machine, 900, task__title="Coolant", likely=None)
        with farm.scope():
            workorders.plan(
                member=farm.manager,
                machine=machine,
                duties=[late],
                technician=technician,
                planned_for=date(2026, 5, 9),
            )
        FaultFactory(machine=machine, text="Mirror is loose")
        unit(farm, "T-02", in_shop_since=NOW)
        html = beside(farm, machine)
        assert html.index("Engine oil") < html.index("Fan belt") < html.index("Coolant")
        assert "overdue" in html.split("Engine oil")[1].split("Fan belt")[0]
        assert "1 Jun" in html.split("Fan belt")[1].split("Coolant")[0]
        assert "Order 1, T-01" in html
        assert "Mirror is loose" in html
        for name in ("order-new", "reading-new"):
            assert f"{reverse(name)}?machine={machine.pk}" in html
        assert reverse("fault-new", args=[machine.pk]) in html

    def test_what_is_overdue_goes_by_the_day_of_its_yard(self, farm):
        """There it is the next day already."""
        far = YardFactory(organisation=farm.organisation, zone="Pacific/Kiritimati")
        late = {"mark_on": date(2026, 5, 4), "likely": date(2026, 5, 4)}
        assert "overdue" not in beside(farm, duty_of(unit(farm, "T-01"), **late).machine)
        assert "overdue" in beside(farm, duty_of(unit(farm, "T-02", yard=far), **late).machine)

    def test_what_must_not_run_says_so(self, farm):
        machine = unit(farm, "T-01")
        tag_out(machine, farm.technician)
        html = beside(farm, machine)
        assert "Brakes failed" in html
        assert "Do not use it until it is cleared." in html

    def test_who_has_it(self, farm):
        machine = unit(farm, "T-01")
        hire(machine, hirer="Pau Vila", due_back_on=date(2026, 5, 6), note="Trailer <b>too</b>")
        html = beside(farm, machine)
        assert "With Pau Vila since Wed 29 Apr, due back Wed 6 May." in html
        assert "Trailer &lt;b&gt;too&lt;/b&gt;" in html

    def test_more_tasks_than_there_is_room_for_are_counted(self, farm):
        machine = unit(farm, "T-01")
        for n in range(5):
            duty(machine, 200 + n, task__title=f"Task {n}", likely=date(2026, 6, 1 + n))
        html = beside(farm, machine)
        assert "Task 3" in html
        assert "Task 4" not in html
        assert "1 more task<" in html

    def test_a_retired_machine_has_its_facts_and_nothing_to_do(self, farm):
        unit(farm, "T-01")
        html = beside(farm, unit(farm, "T-02", retired_on=date(2026, 4, 1)))
        assert "T-02" in html
        assert "retired" in html
        assert "button" not in html

    def test_no_hours_are_entered_for_an_attachment(self, farm):
        html = beside(farm, AttachmentFactory(organisation=farm.organisation))
        assert reverse("reading-new") not in html

    def test_who_makes_no_orders_can_still_report_a_fault(self, farm):
        html = beside(farm, unit(farm, "T-01"), role="counter")
        assert reverse("order-new") not in html
        assert "Report a fault" in html

    def test_nothing_beside_an_empty_list(self, farm):
        assert 'class="beside"' not in farm.client("owner").get("/machines/").content.decode()

    def test_the_link_keeps_what_was_searched_for_and_another_page_begins_at_its_top(self, farm):
        machines = [unit(farm, f"T-{n:02}") for n in range(30)]
        page = farm.client("owner").get("/machines/", {"word": "T-", "sort": "tag", "beside": machines[3].pk})
        html = page.content.decode()
        assert f'href="?word=T-&amp;sort=tag&amp;beside={machines[4].pk}#at-{machines[4].pk}"' in html
        assert f'href="{reverse("machine", args=[machines[3].pk])}" aria-current="true"' in html
        assert 'rel="next" href="?word=T-&amp;sort=tag&amp;page=2"' in html


class TestGate:
    def test_a_unit_that_is_ready_can_be_sent_out(self, farm):
        machine = unit(farm, "T-01")
        html = beside(farm, path="/gate/", role="counter")
        assert "Nothing keeps it in." in html
        assert reverse("gate-out", args=[machine.pk]) in html

    def test_a_unit_that_is_out_can_be_taken_back(self, farm):
        unit(farm, "T-01")
        machine = unit(farm, "T-02")
        hire(machine, hirer="Pau Vila", due_back_on=date(2026, 5, 6))
        html = beside(farm, machine, path="/gate/", role="counter")
        assert "With Pau Vila since Wed 29 Apr, due back Wed 6 May." in html
        assert reverse("gate-in", args=[machine.pk]) in html

    def test_a_unit_that_is_kept_in_says_why_and_cannot_be_sent_out_from_there(self, farm):
        machine = unit(farm, "T-01")
        duty(machine, 90, task__title="Engine oil")
        tag_out(machine, farm.technician)
        html = beside(farm, machine, path="/gate/", role="counter")
        assert "Brakes failed" in html
        assert "Engine oil is overdue: due at 90.0 h, now 100.0 h." in html
        assert reverse("gate-out", args=[machine.pk]) not in html

    def test_a_machine_that_is_not_for_hire_has_no_answer(self, farm):
        unit(farm, "T-01")
        html = beside(farm, unit(farm, "T-02", for_hire=False), path="/gate/", role="counter")
        assert "Nothing keeps it in." not in html
        assert "ready" in html


@pytest.mark.parametrize("path", ["/machines/", "/gate/"])
class TestBoth:
    @pytest.mark.parametrize("asked", ["x", "²", "-1", "0", "1.5", "999999", "9" * 40, "1; 2"])
    def test_a_machine_that_does_not_exist_is_not_found(self, farm, path, asked):
        unit(farm)
        assert farm.client("owner").get(path, {"beside": asked}).status_code == 404

    def test_somebody_elses_is_not_found(self, farm, stranger, path):
        machine = unit(farm)
        assert stranger.client("owner").get(path, {"beside": machine.pk}).status_code == 404

    def test_each_links_to_what_is_shown_of_it_beside_and_the_one_shown_to_its_page(self, farm, path):
        shown, other = unit(farm, "T-01"), unit(farm, "T-02")
        html = farm.client("owner").get(path, {"beside": shown.pk}).content.decode()
        assert f'href="{reverse("machine", args=[shown.pk])}" aria-current="true"' in html
        assert f'class="page-link" href="{reverse("machine", args=[other.pk])}"' in html
        assert f'class="beside-link" href="?beside={other.pk}#at-{other.pk}"' in html
        for machine in (shown, other):
            assert html.count(f'id="at-{machine.pk}"') == 1

    def test_one_with_much_to_tell_costs_no_more_queries(self, farm, path):
        def cost(machine):
            browser = farm.client("owner")
            with CaptureQueriesContext(connection) as queries:
                assert browser.get(path, {"beside": machine.pk}).status_code == 200
            return len(queries)

        plain, full = unit(farm, "T-01"), unit(farm, "T-02")
        for machine, number in ((plain, 1), (full, 6)):
            for n in range(number):
                work = duty(machine, Decimal(80 + n))
                FaultFactory(machine=machine)
                with farm.scope():
                    workorders.plan(
                        member=farm.manager, machine=machine, duties=[work], technician=None, planned_for=None
                    )
        assert cost(plain) == cost(full)
