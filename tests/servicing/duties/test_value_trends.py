"""Which duty a drifting value brings forward, what clears it, and that the rule's own mark is kept."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal as D

import pytest
import time_machine

from fleet.models import Member, Reading
from servicing import workorders
from servicing.duties import value_trends
from servicing.duties.completion import complete_duty
from servicing.duties.refresh import refresh_duties
from servicing.models import CheckResult, Duty
from tests.factories import (
    CheckFactory,
    IntervalFactory,
    LineFactory,
    MachineFactory,
    ProgramFactory,
    ProgramVersionFactory,
    ReadingFactory,
    TaskFactory,
    WorkOrderFactory,
)

NOW = datetime(2026, 5, 4, 12, tzinfo=UTC)
TODAY = NOW.date()


@pytest.fixture
def machine(in_farm):
    """A tractor that runs two hours a day, at 440 h."""
    made = in_farm.machine(in_service_on=date(2025, 9, 1))
    for n in range(21):
        ReadingFactory(
            machine=made, shows=D(400 + 2 * n), hours=D(400 + 2 * n),
            taken_at=NOW - timedelta(days=20 - n), state=Reading.State.COUNTED,
        )  # fmt: skip
    made.hours, made.hours_at = D(440), NOW
    made.save()
    return made


@pytest.fixture
def check(machine):
    """Belt deflection, 7 to 9 mm, asked for every 100 h."""
    program = ProgramFactory(organisation=machine.organisation, machine_type=machine.type)
    version = ProgramVersionFactory(program=program, made_at=datetime(2025, 9, 1, tzinfo=UTC))
    task = TaskFactory(version=version, title="Check fan belt tension", code="fan-belt")
    IntervalFactory(task=task, every_hours=D(100))
    return CheckFactory(task=task, code="deflection", label="Belt deflection")


def measured(machine, check, *rows, unit="mm"):
    """Closed orders in which so much was found (and left) at so many hours; the duty stands at the last."""
    refresh_duties(machine_ids=[machine.pk], now=NOW)
    duty = Duty.objects.get(machine=machine, task=check.task)
    for hours, found, *left in rows:
        at = NOW - timedelta(hours=12 * (440 - hours))
        order = WorkOrderFactory(
            machine=machine, state="closed", closed_at=at, hours_at_close=D(hours),
            closed_by=Member.objects.first(), number=1000 * machine.pk + hours,
        )  # fmt: skip
        line = LineFactory(
            order=order, duty=duty, task=check.task, open=False, outcome="done", done_hours=D(hours),
            done_on=at.date(), mark_hours=D(hours),
        )  # fmt: skip
        CheckResult.objects.create(
            organisation=machine.organisation, line=line, check_made=check, kind="measure", label=check.label,
            unit=check.unit, lower=check.lower, upper=check.upper, found_value=D(found), found_unit=unit,
            found_passes=True, left_value=D(left[0]) if left else None, left_unit=unit if left else "",
            left_passes=True if left else None,
        )  # fmt: skip
        duty.met_hours, duty.last_hours, duty.last_on = D(hours), D(hours), at.date()
    duty.save()
    refresh_duties(machine_ids=[machine.pk], now=NOW)
    duty.refresh_from_db()
    return duty


STEADY = [(100, "7.2"), (200, "7.7"), (300, "8.2"), (400, "8.7")]
"""0.5 mm in 100 h: 9 mm at 400 + 0.3 / 0.005 = 460 h; by the rule the next is due at 500 h."""


def test_a_drifting_value_brings_its_duty_forward(machine, check):
    duty = measured(machine, check, *STEADY)
    assert (duty.mark_hours, duty.forward_hours, duty.rule_hours) == (460, 460, 500)
    assert duty.forward_reason == "Belt deflection nears its limit of 9\u00a0mm at about 460\u00a0h"
    assert duty.forward_check == check
    assert date(2026, 5, 10) <= duty.likely <= date(2026, 5, 18), "20 h at two hours a day"
    assert not Duty.objects.overdue(TODAY).exists()
    machine.hours = D(460)
    machine.save()
    assert Duty.objects.overdue(TODAY).get() == duty


def test_of_two_checks_of_one_name_the_one_that_drifts_is_meant(machine, check):
    other = CheckFactory(task=check.task, code="deflection-2", label=check.label, position=check.position + 1)
    duty = measured(machine, other, *STEADY)
    assert duty.forward_check == other


def test_a_corrected_order_puts_the_drifting_check_back(machine, check, in_farm):
    duty = measured(machine, check, *STEADY)
    with time_machine.travel(NOW, tick=False):
        order = workorders.plan(member=in_farm.manager, machine=machine, duties=[duty])
        order = workorders.start(order=order, member=in_farm.technician, revision=order.revision)
        (line,) = order.lines.all()
        done = workorders.LineEntry(line.pk, "done", checks=[workorders.CheckEntry(check.pk, "8")])
        left = workorders.LineEntry(
            line.pk, "deferred", reason="No belt", deferred_until=TODAY + timedelta(days=9)
        )
        order = workorders.close(
            order=order,
            member=in_farm.technician,
            revision=order.revision,
            entries=workorders.Entries(lines=[done], hours=D(440)),
        )
        duty.refresh_from_db()
        assert duty.forward_check is None
        workorders.amend(
            order=order,
            member=in_farm.manager,
            revision=order.revision,
            entries=workorders.Entries(lines=[left]),
            reason="Belt not changed.",
        )
    duty.refresh_from_db()
    assert (duty.forward_hours, duty.forward_check) == (460, check)


def test_refreshing_again_changes_nothing(machine, check):
    measured(machine, check, *STEADY)
    assert refresh_duties(machine_ids=[machine.pk], now=NOW) == 0


def test_the_reason_says_thousands_apart(machine, check):
    rows = [(hours + 1000, found) for hours, found in STEADY]
    machine.hours = D(1440)
    machine.save()
    duty = measured(machine, check, *rows)
    assert duty.forward_reason.endswith("at about 1\u202f460\u00a0h")


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        (STEADY[1:], "three values are not enough"),
        ([(100, "7.2"), (200, "7.4"), (300, "7.6"), (400, "7.8")], "9 mm at 1000 h, after the next service"),
        ([(100, "8.6"), (200, "8.8"), (300, "8.5"), (400, "8.7")], "to and fro"),
        ([*STEADY[:3], (400, "9.1", "8.0")], "adjusted the last time"),
    ],
)
def test_other_values_leave_the_rules_mark(machine, check, rows, why):
    duty = measured(machine, check, *rows)
    assert (duty.mark_hours, duty.forward_hours, duty.rule_hours) == (500, None, None), why
    assert (duty.forward_check, duty.forward_reason) == (None, "")


def test_values_in_inches_count_like_millimetres(machine, check):
    # 25.4 mm an inch (NIST SP 811): 7.112, 7.62, 8.128, 8.636 mm, so 0.508 mm in 100 h; 9 mm at 471.65 h
    duty = measured(machine, check, *[(100, "0.28"), (200, "0.30"), (300, "0.32"), (400, "0.34")], unit="in")
    assert duty.forward_hours == 471


def test_a_limit_nearly_reached_is_asked_for_after_a_days_work(machine, check):
    duty = measured(machine, check, (100, "7.5"), (200, "8"), (300, "8.5"), (400, "9"))
    assert duty.mark_hours == 410


def test_values_found_under_an_earlier_version_of_the_program_count(machine, check):
    measured(machine, check, *STEADY)
    program = check.task.version.program
    check.task.version.state = "retired"
    check.task.version.save()
    task = TaskFactory(version=ProgramVersionFactory(program=program, number=2), code="fan-belt")
    IntervalFactory(task=task, every_hours=D(100))
    CheckFactory(task=task, code="deflection", label="Belt deflection", upper=D("9.1"))
    refresh_duties(machine_ids=[machine.pk], now=NOW)
    duty = Duty.objects.get(task=task)
    assert (duty.mark_hours, duty.forward_reason.split(" at ")[0]) == (
        480, "Belt deflection nears its limit of 9.1\u00a0mm",
    )  # fmt: skip


def test_the_work_clears_it_and_the_next_mark_is_counted_from_the_rules(machine, check, in_farm):
    duty = measured(machine, check, *STEADY)
    met = complete_duty(duty=duty, hours=D(455), on=TODAY)
    assert (met.forward_hours, met.forward_reason, met.rule_hours) == (None, "", None)
    assert met.forward_check is None
    assert met.met_hours == 500
    assert met.mark_hours == 555, "45 h early, so a new line of marks begins, as with any early work"


def test_closing_an_order_with_the_value_set_right_clears_it(machine, check, in_farm):
    duty = measured(machine, check, *STEADY)
    order = workorders.plan(member=in_farm.manager, machine=machine, duties=[duty])
    line = order.lines.get()
    assert line.mark_hours == 460
    with time_machine.travel(NOW):
        order = workorders.start(order=order, member=in_farm.technician, revision=order.revision)
    entry = workorders.LineEntry(
        line.pk, "adjusted", checks=[workorders.CheckEntry(check.pk, "9.0", "mm", "8.0", "mm")]
    )
    workorders.close(
        order=order, member=in_farm.technician, revision=order.revision, now=NOW + timedelta(hours=6),
        entries=workorders.Entries(lines=[entry], hours=D(442)),
    )  # fmt: skip
    machine.refresh_from_db()
    assert machine.projection_wanted_at is not None
    refresh_duties(machine_ids=[machine.pk], now=NOW + timedelta(hours=7))
    duty.refresh_from_db()
    assert (duty.forward_hours, duty.mark_hours) == (None, 542)
    each = value_trends.series([duty])[machine.pk, check.task_id][0]
    assert each.outlook.run == ((442.0, 8.0),)


def test_a_date_that_comes_first_keeps_its_mark(machine, check):
    interval = check.task.intervals.get()
    interval.every_hours, interval.every_months = None, 1
    interval.save()
    duty = measured(machine, check, *STEADY)
    assert duty.mark_on == date(2026, 5, 14), "a month after 14 April"
    assert duty.forward_hours in (None, D(460))
    interval.every_months = 2
    interval.save()
    refresh_duties(machine_ids=[machine.pk], now=NOW)
    duty.refresh_from_db()
    assert (duty.mark_on, duty.mark_hours, duty.rule_hours) == (date(2026, 6, 14), 460, None)
    met = complete_duty(duty=duty, hours=D(455), on=TODAY)
    assert (met.met_hours, met.mark_hours, met.mark_on) == (None, None, date(2026, 7, 4))


def test_an_open_orders_values_wait_until_it_is_closed(machine, check):
    duty = measured(machine, check, *STEADY[:3])
    order = WorkOrderFactory(machine=machine, state="started", number=9)
    line = LineFactory(order=order, duty=duty, task=check.task)
    CheckResult.objects.create(
        organisation=machine.organisation, line=line, check_made=check, kind="measure", label="x",
        unit="mm", upper=D(9), found_value=D("8.7"), found_unit="mm", found_passes=True,
    )  # fmt: skip
    refresh_duties(machine_ids=[machine.pk], now=NOW)
    duty.refresh_from_db()
    assert duty.forward_hours is None
    assert len(value_trends.series([duty])[machine.pk, check.task_id][0].points) == 3


def bending(life, *shares):
    """Belt deflection from 7 to 9 mm after so many hours, by their square: at these shares of the hours."""
    return [(round(life * share), f"{7 + 2 * share**2:.2f}") for share in shares]


BENT = bending(520, 0.02, 0.25, 0.5, 0.75)
"""9 mm at 520 h; a straight line through it takes until some 610 h."""
WHOLE = (0.02, 0.2, 0.4, 0.55, 0.7, 0.8, 0.9, 1.0)


def another(machine):
    """Another machine of the type, in the same yard."""
    return MachineFactory(
        organisation=machine.organisation,
        type=machine.type,
        yard=machine.yard,
        in_service_on=machine.in_service_on,
    )


def with_kin(machine, check, count=5):
    """Other machines of the type, on which the same check went its whole way."""
    for n in range(count):
        other = another(machine)
        measured(other, check, *bending(300 + 30 * n, *WHOLE))


def only(duty):
    return value_trends.series([duty])[duty.machine_id, duty.task_id][0]


def test_other_machines_show_that_it_speeds_up(machine, check):
    alone = only(measured(machine, check, *BENT)).outlook
    with_kin(machine, check)
    among = only(Duty.objects.get(machine=machine)).outlook
    assert (alone.kin, among.kin) == (0, 5)
    assert (alone.halves, among.path.shape.kind) == (None, "power")
    assert among.crossing.hours == pytest.approx(520, abs=15)
    assert alone.crossing.hours > among.crossing.hours + 40
    assert among.crossing.early < among.crossing.hours < among.crossing.late


def test_the_mark_is_brought_forward_by_the_bent_path_and_says_so(machine, check):
    check.task.intervals.update(every_hours=D(160))
    with_kin(machine, check)
    duty = measured(machine, check, *BENT)
    assert duty.rule_hours == 390 + 160
    assert 505 <= duty.forward_hours <= 535
    assert duty.forward_reason == (
        "Belt deflection changes faster and faster and nears its limit of 9\u00a0mm "
        f"at about {duty.forward_hours:.0f}\u00a0h"
    )
    assert refresh_duties(machine_ids=[machine.pk], now=NOW) == 0


def test_earlier_runs_of_the_machine_itself_are_kin(machine, check):
    rows = [
        (round(60 * n + 50 * share + 1), f"{7 + 2 * share**2:.2f}") for n in range(5) for share in WHOLE[1:-1]
    ]
    adjusted = [(*row, "7.00") if n % 6 == 5 else row for n, row in enumerate(rows)]
    now = [(round(300 + 50 * share + 1), f"{7 + 2 * share**2:.2f}") for share in (0.25, 0.5, 0.75)]
    outlook = only(measured(machine, check, *adjusted, *now)).outlook
    assert (len(outlook.run), outlook.kin) == (4, 5)


def test_what_another_check_found_is_no_kin(machine, check):
    other = CheckFactory(task=check.task, code="other", label="Another", position=check.position + 1)
    with_kin(machine, other)
    measured(machine, check, *BENT)
    assert only(Duty.objects.get(machine=machine)).outlook.kin == 0


def test_kin_cost_one_query_however_many_they_are(machine, check, django_assert_num_queries):
    duty = measured(machine, check, *BENT)
    for _ in range(2):
        with_kin(machine, check, count=2)
        with django_assert_num_queries(3):
            value_trends.series([duty])


def test_what_heads_nowhere_asks_for_no_kin(machine, check, django_assert_num_queries):
    duty = measured(machine, check, (100, "8.6"), (200, "8.8"), (300, "8.5"), (400, "8.7"))
    with django_assert_num_queries(2):
        value_trends.series([duty])


def test_of_very_many_values_the_latest_teach(machine, check, monkeypatch):
    with_kin(machine, check)
    duty = measured(machine, check, *BENT)
    monkeypatch.setattr(value_trends, "KIN_VALUES", 4)
    assert only(duty).outlook.kin == 0, "four values hold nothing back"


def test_kin_measured_in_inches_count_in_the_checks_unit(machine, check):
    for n in range(5):
        other = another(machine)
        rows = [(hours, f"{D(value) / D('25.4'):.4f}") for hours, value in bending(300 + 30 * n, *WHOLE)]
        measured(other, check, *rows, unit="in")
    outlook = only(measured(machine, check, *BENT)).outlook
    assert outlook.kin == 5
    assert outlook.crossing.hours == pytest.approx(520, abs=15)
