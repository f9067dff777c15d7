"""Attachments are serviced by hours of their own: duties, their host's orders, its gate and their page."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal as D
from pathlib import Path

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet import readings
from fleet.core.errors import FleetError
from fleet.machines import attachments, tag_outs
from fleet.models import Attachment, Machine, MachineType, TagOut
from fleet.readings import Submitted, propagation
from servicing import gate, workorders
from servicing.duties import projection, value_trends
from servicing.duties.refresh import refresh_all_duties, refresh_duties
from servicing.job_sheet.build import build_job_sheet
from servicing.ledger.compliance import Compliance
from servicing.ledger.period import Month
from servicing.measurements import retest
from servicing.models import Duty, Line, WorkOrder
from servicing.planning.intervals import Mark
from servicing.programs.file_format import parse
from servicing.programs.load import load_program
from servicing.reports.month import collect_month
from servicing.workorders import CheckEntry, Entries, LineEntry
from tests.factories import AttachmentFactory, CheckFactory, DutyFactory, FaultFactory, IntervalFactory
from tests.servicing.duties.nights import night

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
PROGRAMS = Path(__file__).parents[2] / "fixtures" / "programs"
pytestmark = pytest.mark.time_machine(NOW, tick=False)


def ago(days):
    return NOW - timedelta(days=days)


def tractor_of(house, tag, *, pace=4, since=120):
    """A machine that has run so many hours a day, and was read each week."""
    machine = house.machine(tag=tag, for_hire=True)
    rows = [Submitted(machine.pk, ago(days), 1000 + (since - days) * pace) for days in range(since, -1, -6)]
    readings.take(organisation=house.organisation, rows=rows, source="page", sender="page")
    machine.refresh_from_db()
    return machine


@pytest.fixture
def tractor(in_farm):
    return tractor_of(in_farm, "T-01")


@pytest.fixture
def cutter(in_farm):
    """A cutter with 200 h, in its program since a month ago."""
    with time_machine.travel(ago(30), tick=False):
        document = parse((PROGRAMS / "rotary_cutter.yaml").read_bytes())
        load_program(organisation=in_farm.organisation, document=document, member=in_farm.manager)
    return cutter_of(in_farm, "RC-1")


def cutter_of(house, tag, hours=200):
    kind = MachineType.objects.filter(category="attachment").first()
    facts = {"organisation": house.organisation, "yard": house.yard, "tag": tag, "hours_before": D(hours)}
    return AttachmentFactory(**facts, **({"type": kind} if kind else {}))


def hang(house, attachment, machine, days):
    attachments.mount(attachment=attachment, machine=machine, at=ago(days), member=house.technician)
    attachment.refresh_from_db()


def take_off(house, attachment, days):
    attachments.remove(attachment=attachment, at=ago(days), member=house.technician)
    attachment.refresh_from_db()


def duty(attachment, code):
    return Duty.objects.get(machine=attachment, task__code=code)


class TestMarks:
    def test_it_has_the_duties_of_its_own_program(self, in_farm, tractor, cutter):
        refresh_all_duties()
        assert duty(cutter, "gearbox-level").mark_hours == 250  # every 50 h; it came under the program at 200
        assert not Duty.objects.filter(machine=tractor).exists()
        assert not Duty.objects.filter(machine=cutter, task__code="slip-clutch").exists()  # not fitted

    def test_swapped_in_mid_interval_its_marks_stay(self, in_farm, tractor, cutter):
        other = tractor_of(in_farm, "T-02", pace=2)
        hang(in_farm, cutter, tractor, 20)
        refresh_all_duties()
        before = duty(cutter, "gearbox-level").mark_hours
        take_off(in_farm, cutter, 12)
        hang(in_farm, cutter, other, 12)
        refresh_all_duties()
        assert duty(cutter, "gearbox-level").mark_hours == before == 250
        assert cutter.hours == 200 + 8 * 4 + 12 * 2
        assert duty(cutter, "gearbox-level").is_overdue(NOW.date())  # 256 h, read from the hours themselves
        assert duty(cutter, "gearbox-level").likely == NOW.date()  # the first reading beyond 250 h

    def test_it_comes_under_the_program_with_the_hours_it_had_then(self, in_farm, tractor, cutter):
        hang(in_farm, cutter, tractor, 60)  # 320 h when its program was loaded, 440 h now
        refresh_all_duties()
        assert duty(cutter, "gearbox-level").mark_hours == 350

    def test_hours_of_the_host_queue_its_projection(
        self, in_farm, tractor, cutter, django_capture_on_commit_callbacks
    ):
        hang(in_farm, cutter, tractor, 10)
        refresh_all_duties()
        told = []

        def hear(organisation_id, machine_ids):
            told.extend(machine_ids)

        propagation.when_hours_move.append(hear)
        try:
            with django_capture_on_commit_callbacks(execute=True):
                row = Submitted(tractor.pk, ago(3), tractor.hours - 11)
                readings.take(organisation=in_farm.organisation, rows=[row], source="page", sender="page")
        finally:
            propagation.when_hours_move.remove(hear)
        assert set(told) == {tractor.pk, cutter.pk}


class TestProjection:
    def test_mounted_it_reaches_its_marks_at_its_hosts_pace(self, in_farm, tractor, cutter):
        hang(in_farm, cutter, tractor, 60)
        marks = [(machine, Mark(hours=machine.hours + 80)) for machine in Machine.objects.order_by("-tag")]
        own, its = projection.days(marks, now=NOW)
        assert abs((own.likely - (NOW + timedelta(days=20)).date()).days) <= 4  # 4 h a day, 80 h ahead
        assert abs((its.likely - own.likely).days) <= 4

    def test_on_no_machine_it_is_due_by_date_only(self, in_farm, tractor, cutter):
        hang(in_farm, cutter, tractor, 60)
        take_off(in_farm, cutter, 55)
        refresh_all_duties()
        by_hours = Duty.objects.filter(machine=cutter, active=True, mark_on=None)
        ahead = [each for each in by_hours if each.mark_hours > cutter.hours]
        assert ahead
        assert all((each.early, each.likely, each.late) == (None, None, None) for each in ahead)
        yearly = duty(cutter, "driveline-fit")
        assert yearly.mark_hours is None
        assert yearly.early == yearly.likely == yearly.late == yearly.mark_on

    def test_as_many_queries_for_many(self, in_farm, tractor, cutter):
        counted = []
        for tags in (["RC-2"], ["RC-3", "RC-4", "RC-5"]):
            for tag in tags:
                hang(in_farm, cutter_of(in_farm, tag), tractor, 60)
            refresh_all_duties()
            with CaptureQueriesContext(connection) as queries:
                refresh_all_duties(now=NOW + timedelta(days=len(tags)))
            counted.append(len(queries))
        assert counted[0] == counted[1]


@pytest.fixture
def hung(in_farm, tractor):
    """A cutter of 280 h on the tractor, with an overdue duty that has a safety check and a measure."""
    cutter = cutter_of(in_farm, "RC-1")
    hang(in_farm, cutter, tractor, 20)
    blades = DutyFactory(machine=cutter, mark_hours=D(250), task__title="Blades")
    IntervalFactory(task=blades.task, every_hours=D(50))
    CheckFactory(task=blades.task, code="width", label="Blade width", unit="mm", lower=D(60), upper=None)
    facts = {"kind": "function", "safety": True, "unit": "", "lower": None, "upper": None}
    CheckFactory(task=blades.task, code="guards", label="Guards hold", **facts)
    cutter.blades = blades
    return cutter


def order_of(house, machine, *duties):
    order = workorders.plan(member=house.manager, machine=machine, duties=duties)
    return workorders.start(order=order, member=house.technician, revision=1)


def close(house, order, found, outcome="done"):
    """Close it with what was found at each check, by code; the host shows 8 h more."""
    lines = []
    for line in order.lines.all():
        checks = [CheckEntry(each.pk, found[each.code]) for each in line.task.checks.all()]
        lines.append(LineEntry(line.pk, outcome, reason="Worn", checks=checks))
    order.machine.refresh_from_db()
    entries = Entries(lines=lines, hours=order.machine.hours + 8)
    with time_machine.travel(NOW + timedelta(days=2), tick=False):
        return workorders.close(
            order=order, member=house.technician, revision=order.revision, entries=entries
        )


class TestOrders:
    def test_its_work_goes_on_its_hosts_order(self, in_farm, tractor, hung):
        oil = DutyFactory(machine=tractor, mark_hours=D(1000), task__title="Engine oil")
        order = order_of(in_farm, tractor, oil, hung.blades)
        assert sorted(order.lines.values_list("title", flat=True)) == ["Engine oil", "RC-1: Blades"]
        assert {line.title: line.machine.tag for line in order.lines.all()} == {
            "Engine oil": "T-01",
            "RC-1: Blades": "RC-1",
        }
        assert {row.line.title for row in build_job_sheet(order).lines} == {"Engine oil", "RC-1: Blades"}

    def test_done_it_is_met_at_its_own_hours(self, in_farm, tractor, hung):
        order = close(in_farm, order_of(in_farm, tractor, hung.blades), {"width": "71", "guards": "passes"})
        line = order.lines.get()
        hung.blades.refresh_from_db()
        assert order.hours_at_close == tractor.hours + 8
        assert line.done_hours == hung.blades.last_hours == 200 + 20 * 4 + 8
        assert hung.blades.met_hours == 250

    def test_that_hang_elsewhere_stay_off(self, in_farm, tractor, hung):
        take_off(in_farm, hung, 1)
        with pytest.raises(FleetError, match="Choose only what belongs to T-01") as refused:
            order_of(in_farm, tractor, hung.blades)
        assert refused.value.field == "duties"
        order = order_of(
            in_farm, Machine.objects.get(pk=hung.pk), hung.blades
        )  # but it has orders of its own
        assert order.lines.get().title == "Blades"

    def test_a_failed_safety_check_tags_the_attachment_out_and_not_its_host(self, in_farm, tractor, hung):
        close(
            in_farm,
            order_of(in_farm, tractor, hung.blades),
            {"width": "71", "guards": "fails"},
            outcome="referred",
        )
        assert [tag_out.machine_id for tag_out in TagOut.objects.open()] == [hung.pk]
        assert [result.label for result in retest.failing(hung)] == ["Guards hold"]
        assert retest.failing(tractor) == []

    def test_what_was_measured_is_the_attachments_on_whatever_host(self, in_farm, tractor, hung):
        close(in_farm, order_of(in_farm, tractor, hung.blades), {"width": "71", "guards": "passes"})
        with time_machine.travel(NOW + timedelta(days=3), tick=False):
            take_off(in_farm, hung, -3)
            other = tractor_of(in_farm, "T-02")
            hang(in_farm, hung, other, -3)
            order = workorders.plan(member=in_farm.manager, machine=other, duties=[hung.blades])
            (row,) = build_job_sheet(order).lines
            seen = next(each.last for each in row.checks if each.check.code == "width")
            assert (seen.found, seen.hours) == ("71 mm", 288)
        ((width,),) = value_trends.series([hung.blades]).values()
        assert [(point.hours, point.found) for point in width.points] == [(288.0, 71.0)]


class TestGate:
    def test_its_days_ahead_are_asked_for_with_its_hosts(self, in_farm, tractor, hung):
        refresh_duties(machine_ids=[tractor.pk, hung.pk])
        Machine.objects.update(projection_wanted_at=None)
        gate.check_out(
            machine=tractor,
            hirer="Lena",
            due_back_on=None,
            shows=None,
            fuel=None,
            member=in_farm.manager,
            anyway_reason="Only to the next field",
        )
        assert set(Machine.objects.awaiting_projection()) == {tractor, Machine.objects.get(pk=hung.pk)}

    def test_what_hangs_on_it_speaks_against_it(self, in_farm, tractor, hung):
        answer = gate.answer(tractor)
        assert answer.verdict == gate.Verdict.SERVICE_FIRST
        assert answer.reasons[0].startswith("RC-1 is mounted on it. Blades is overdue: due at 250.0")
        tag_outs.place(machine=hung, reason="Guard broken", member=in_farm.technician)
        FaultFactory(machine=hung, severity="stops", text="Deck cracked")
        answer = gate.answer(tractor)
        assert answer.verdict == gate.Verdict.TAGGED_OUT
        assert answer.reasons[0].startswith("RC-1 is mounted on it. Tagged out by")
        assert "Deck cracked" in " ".join(answer.reasons)
        take_off(in_farm, hung, 0)
        assert gate.answer(tractor).is_ready

    def test_as_many_queries_for_many(self, in_farm, tractor, hung):
        counted = []
        for tags in (["T-02"], ["T-03", "T-04", "T-05"]):
            for tag in tags:
                host, cutter = tractor_of(in_farm, tag, since=30), cutter_of(in_farm, f"C-{tag}")
                hang(in_farm, cutter, host, 10)
                DutyFactory(machine=cutter, mark_hours=D(10))
                tag_outs.place(machine=cutter, reason="x", member=in_farm.technician)
            with CaptureQueriesContext(connection) as queries:
                gate.answers(Machine.objects.metered().select_related("yard__organisation"))
            counted.append(len(queries))
        assert counted[0] == counted[1]


class TestPages:
    """The middleware opens the scope here, as everywhere."""

    @pytest.fixture
    def page(self, farm, in_farm, tractor, hung):
        clients = {role: farm.client(role) for role in ("manager", "technician")}
        return lambda name, *args, role="manager", **query: (
            clients[role].get(reverse(name, args=args), query).content.decode()
        )

    def test_its_own_page_is_a_machines(self, page, tractor, hung):
        shown = page("machine", hung.pk)
        assert f'on <a href="/machines/{tractor.pk}/">T-01</a>' in shown
        assert "Remove it from T-01" in shown
        assert reverse("reading-new") + f'?machine={hung.pk}"' not in shown
        assert "Meter replaced" not in shown
        assert "280.0\u00a0h" in shown

    def test_on_no_machine_it_can_be_mounted(self, page, in_farm, hung):
        take_off(in_farm, hung, 0)
        shown = page("machine", hung.pk)
        assert "Mount it" in shown
        assert "not mounted, so it counts no hours" in shown

    def test_its_hosts_page_says_what_is_next_on_it(self, page, tractor, hung):
        shown = page("machine", tractor.pk)
        assert f'<a href="/machines/{hung.pk}/">RC-1</a>' in shown
        assert "1 task" in shown
        assert "Enter hours" in shown

    def test_the_list_has_it_and_can_be_narrowed_to_it(self, page):
        assert {"T-01", "RC-1"} <= set(page("machines").replace(">", "<").split("<"))
        shown = page("machines", category="attachment")
        assert "on T-01" in shown
        assert ">T-01</a>" not in shown

    def test_hours_cannot_be_entered_for_it(self, page, farm, tractor, hung):
        assert "RC-1" not in page("reading-new")
        assert farm.client("manager").get(f"/readings/new/?machine={hung.pk}").status_code == 404
        assert farm.client("manager").get(f"/machines/{hung.pk}/meter/").status_code == 404

    def test_an_order_for_the_host_offers_its_due_work(self, page, farm, tractor, hung):
        later = DutyFactory(
            machine=hung, mark_hours=D(900), task__title="Bolts", early=None, likely=None, late=None
        )
        shown = page("order-new", machine=tractor.pk)
        assert "RC-1: Blades" in shown
        assert "Bolts" not in shown
        answer = farm.client("manager").post(
            f"{reverse('order-new')}?machine={tractor.pk}", {"duties": [hung.blades.pk]}
        )
        assert answer.status_code == 302
        assert Line.objects.get().title == "RC-1: Blades"
        assert later.pk not in Line.objects.values_list("duty", flat=True)

    def test_an_order_for_the_host_offers_its_faults(self, page, farm, in_farm, tractor, hung):
        fault = FaultFactory(machine=hung, text="Skid shoe cracked")
        assert "RC-1: Skid shoe cracked" in page("order-new", machine=tractor.pk)
        address = f"{reverse('order-new')}?machine={tractor.pk}"
        assert farm.client("manager").post(address, {"faults": [fault.pk]}).status_code == 302
        order = WorkOrder.objects.get()
        assert order.lines.get().title == "RC-1: Put right: Skid shoe cracked"
        order = workorders.start(order=order, member=in_farm.technician, revision=1)
        done = Entries(lines=[LineEntry(order.lines.get().pk, "done")], hours=tractor.hours)
        workorders.close(order=order, member=in_farm.technician, revision=order.revision, entries=done)
        fault.refresh_from_db()
        assert fault.fixed_at == NOW

    def test_faults_of_what_hangs_elsewhere_stay_off(self, farm, in_farm, tractor, hung):
        fault = FaultFactory(machine=hung)
        take_off(in_farm, hung, 1)
        with pytest.raises(FleetError, match="Choose only what belongs to T-01"):
            workorders.plan(member=in_farm.manager, machine=tractor, faults=[fault])

    def test_its_facts_can_be_changed(self, farm, page, hung):
        assert "RC-1" in page("machine-edit", hung.pk)
        facts = {"tag": "RC-7", "type": hung.type_id, "yard": hung.yard_id, "condition": "heavy"}
        answer = farm.client("manager").post(
            reverse("machine-edit", args=[hung.pk]), facts | {"in_service_on": "2026-01-01"}
        )
        assert answer.status_code == 302
        assert Attachment.objects.values_list("tag", "hours").get() == ("RC-7", 280)


class TestLedger:
    def test_its_hours_are_told_and_not_added_to_its_hosts(self, in_farm, tractor, hung):
        close(in_farm, order_of(in_farm, tractor, hung.blades), {"width": "71", "guards": "passes"})
        now = NOW + timedelta(days=2)
        sheet = collect_month(organisation=in_farm.organisation, month=Month(2026, 5), now=now)
        host, cutter = sorted(sheet.rows, key=lambda row: row.hangs)
        assert cutter.hours == host.hours == sheet.hours
        # due at 250 h, which it had run in April, and done in May at 288 h
        assert (cutter.marks, host.marks) == (Compliance(carried_in=1), Compliance())

    def test_no_projection_of_it_is_kept(self, in_farm, tractor, hung):
        DutyFactory(machine=hung, mark_hours=D(300))
        DutyFactory(machine=tractor, mark_hours=tractor.hours + 20)
        assert night(NOW) == 1
