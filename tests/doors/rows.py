"""One of everything an address can name, in one organisation, in the state in which it can be acted on."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from fleet import readings
from fleet.accounts import invitations, setup
from fleet.core.roles import RIGHTS
from fleet.imports import inspection, uploads
from fleet.machines import attachments, tag_outs
from fleet.models import ApiToken, Ask, Hire, Machine, Reading
from fleet.readings import Submitted, decisions
from notifications.models import Message
from servicing import workorders
from servicing.models import Line, SentProgram, TaskOverride, WorkOrder
from servicing.workorders import CheckEntry, Entries, LineEntry
from tests.cast import House
from tests.factories import (
    AttachmentFactory,
    BookingFactory,
    CheckFactory,
    DutyFactory,
    FaultFactory,
    FitmentFactory,
    HolidayFactory,
    IntervalFactory,
    MachineFactory,
    MachineTypeFactory,
    PartFactory,
    ProgramVersionFactory,
    TaskFactory,
    TechnicianFactory,
    TelematicsSourceFactory,
    TelematicsUnitFactory,
)

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
TODAY = date(2026, 5, 4)
SHOWS = Decimal(1000)
PASSWORD = "a-long-enough-word"  # the factories' people have it


@dataclass(frozen=True)
class Rows:
    """A house and its rows by name: `rows.machine`, `rows.started` and so on."""

    house: House
    made: SimpleNamespace

    def __getattr__(self, name: str) -> Any:
        return getattr(self.made, name)

    def browser(self, role: str) -> Client:
        """A browser in which the member with that role is signed in."""
        client = Client()
        client.handler = self.signed_in[role].handler  # the middleware is loaded once
        client.cookies.load({name: each.value for name, each in self.signed_in[role].cookies.items()})
        return client

    def key(self, name: str) -> Any:
        """What stands for that row in an address."""
        row = getattr(self.made, name)
        return getattr(row, "pk", row)


def everything(house: House) -> Rows:
    """Make the rows, by the own processes where a state comes of one. The time must be NOW."""
    made = SimpleNamespace()
    with house.scope():
        _fleet(house, made)
        _hours(house, made)
        _work(house, made)
        _told(house, made)
    made.signed_in = {role: house.client(role) for role in RIGHTS}
    made.with_token = {role: house.api(role) for role in RIGHTS}
    made.device = house.device()
    return Rows(house, made)


def machine_of(house: House, kind: Any, **facts: Any) -> Machine:
    """A machine that has run SHOWS hours."""
    machine: Machine = MachineFactory.create(
        organisation=house.organisation, yard=house.yard, type=kind, **facts
    )
    taken = Submitted(machine.pk, NOW - timedelta(days=10), SHOWS)
    readings.take(
        organisation=house.organisation, rows=[taken], source="page", sender="page", member=house.manager
    )
    machine.refresh_from_db()
    return machine


def _fleet(house: House, made: SimpleNamespace) -> None:
    own = {"organisation": house.organisation}
    made.yard, made.member = house.yard, house.counter
    made.fitment = FitmentFactory(**own)
    made.kind, made.hung_kind = MachineTypeFactory(**own), MachineTypeFactory(**own, category="attachment")
    made.machine = machine_of(
        house, made.kind, tag=f"{house.organisation.slug}-one", serial=f"{house.organisation.slug}-4711"
    )
    made.machine.fitments.add(made.fitment)
    made.code = made.machine.code
    made.unit = machine_of(house, made.kind, for_hire=True)
    made.hired = machine_of(house, made.kind, for_hire=True)
    made.hire = Hire.objects.create(
        **own, machine=made.hired, hirer="Own hirer", out_at=NOW - timedelta(days=3), hours_out=SHOWS
    )
    made.idle = machine_of(house, made.kind)
    made.ended = Hire.objects.create(
        **own,
        machine=made.idle,
        hirer="Own hirer",
        out_at=NOW - timedelta(days=9),
        hours_out=SHOWS,
        back_at=NOW - timedelta(days=8),
        note_back="",
    )
    made.booking = BookingFactory(machine=made.machine)
    made.holiday = HolidayFactory(organisation=house.organisation, yard=house.yard)
    made.retired = machine_of(house, made.kind, retired_on=date(2026, 4, 30))
    made.loose = AttachmentFactory(**own, yard=house.yard, type=made.hung_kind)
    made.hung = AttachmentFactory(**own, yard=house.yard, type=made.hung_kind)
    made.mounting = attachments.mount(
        attachment=made.hung, machine=made.machine, at=NOW - timedelta(days=5), member=house.manager
    )
    made.tag_out = tag_outs.place(
        machine=machine_of(house, made.kind), reason="Brake does not hold.", member=house.technician
    )
    made.ask = Ask.objects.create(
        **own,
        machine=made.idle,
        matter="send-out",
        whom="Own asker",
        first_on=TODAY,
        against=["Booked for Own hirer on 4 May 2026."],
        asked_by=house.counter,
        asked_at=NOW - timedelta(days=1),
    )
    made.source = TelematicsSourceFactory(**own, next_try_at=NOW + timedelta(hours=1))
    made.reported = TelematicsUnitFactory(
        source=made.source, proposed=made.machine, hint=f"Is this {made.machine}?"
    )
    made.token, _ = ApiToken.issue(name="box", created_by=house.owner)


def _hours(house: House, made: SimpleNamespace) -> None:
    made.reading = Reading.objects.counted().filter(machine=made.machine).get()
    slip = Submitted(made.machine.pk, NOW - timedelta(days=2), Decimal(10240))
    (receipt,) = readings.take(
        organisation=house.organisation, rows=[slip], source="page", sender="page", member=house.counter
    )
    assert receipt.state == "held"
    made.held = receipt.reading
    made.decided = readings.take(
        organisation=house.organisation,
        rows=[Submitted(made.machine.pk, NOW - timedelta(days=8), SHOWS - 50)],
        source="page",
        sender="page",
    )[0].reading
    decisions.discard(reading=made.decided, member=house.manager, note="Read off another machine.")
    made.mine, made.theirs = _mixed_up(house, made)
    text = f"machine,date,hours\n{made.idle.tag},2026-05-01,1004\n"
    made.file = uploads.receive(upload=SimpleUploadedFile("hours.csv", text.encode()), member=house.manager)
    inspection.read(made.file.pk)
    made.file.refresh_from_db()


def _mixed_up(house: House, made: SimpleNamespace) -> list[Reading]:
    """Two held readings of two machines, each written down for the other."""
    other = MachineFactory.create(organisation=house.organisation, yard=house.yard, type=made.kind)
    mine = machine_of(house, made.kind)
    rows = [
        Submitted(other.pk, NOW - timedelta(days=10), 4000),
        Submitted(mine.pk, NOW - timedelta(days=2), 4005),
        Submitted(other.pk, NOW - timedelta(days=2), 1005),
    ]
    receipts = readings.take(organisation=house.organisation, rows=rows, source="page", sender="page")
    assert [receipt.state for receipt in receipts] == ["counted", "held", "held"]
    return [receipt.reading for receipt in receipts[1:] if receipt.reading]


def _work(house: House, made: SimpleNamespace) -> None:
    made.technician = TechnicianFactory(member=house.technician)
    made.part = PartFactory(organisation=house.organisation, in_stock="9")
    made.spare_part = PartFactory(organisation=house.organisation)
    made.duty = DutyFactory(machine=made.machine, mark_hours=SHOWS, task__minutes=30)
    made.task, made.version = made.duty.task, made.duty.task.version
    made.program = made.version.program
    IntervalFactory(task=made.task)
    made.check = CheckFactory(task=made.task, lower=Decimal(7), upper=Decimal(9))
    made.bound = machine_of(house, made.program.machine_type)
    made.bare_kind = MachineTypeFactory(organisation=house.organisation)
    made.draft = ProgramVersionFactory(
        program__organisation=house.organisation, program__round=["front"], state="draft", invented=True
    )
    made.draft_task = TaskFactory(version=made.draft)
    IntervalFactory(task=made.draft_task)
    made.sent_program = SentProgram.objects.create(
        organisation=house.organisation, name="pump.yaml", written=b"a", state="refused", faults=["a fault"]
    )
    made.override = TaskOverride.objects.create(
        organisation=house.organisation,
        machine=made.idle,
        program=made.program,
        task_code=made.task.code,
        left_out=True,
        reason="Not here.",
    )
    made.fault = FaultFactory(machine=made.machine)
    picture = FaultFactory.create(machine=made.machine, text="With a photo")
    picture.photo.save("hose.jpg", ContentFile(b"a picture"), save=True)
    made.photo = picture.photo.name
    for state in ("planned", "started", "on hold"):
        setattr(made, state.replace(" ", "_"), _order(house, made, state))
    made.line = Line.objects.get(order=made.started)
    made.closed = _closed(house, made)
    made.closed_line = Line.objects.get(order=made.closed)


def _order(house: House, made: SimpleNamespace, state: str) -> WorkOrder:
    """An order in that state, on a machine of its own, for one check that passes from 7 to 9 mm."""
    machine = machine_of(house, made.kind)
    duty = DutyFactory.create(machine=machine, task=made.task, mark_hours=SHOWS)
    order = workorders.plan(
        member=house.manager, machine=machine, duties=[duty], technician=made.technician, planned_for=TODAY
    )
    if state != "planned":
        order = workorders.start(order=order, member=house.technician, revision=order.revision)
    if state == "on hold":
        order = workorders.hold(
            order=order, member=house.technician, revision=order.revision, reason="Waits for the filter."
        )
    return order


def _closed(house: House, made: SimpleNamespace) -> WorkOrder:
    """An order that the technician has closed."""
    order = _order(house, made, "started")
    done = LineEntry(order.lines.get().pk, "done", checks=[CheckEntry(made.check.pk, "8")])
    return workorders.close(
        order=order,
        member=house.technician,
        revision=order.revision,
        entries=Entries(lines=[done], hours=SHOWS + 4),
    )


def _told(house: House, made: SimpleNamespace) -> None:
    setup.wave_off(step="hours", member=house.owner)
    made.message = Message.objects.create(
        organisation=house.organisation,
        member=house.owner,
        address="owner@example.org",
        subject=f"{house.organisation.slug} subject",
        body="Two duties are past.",
        state=Message.State.FAILED,
        error="Mailbox unknown.",
    )
    made.interrupted = Message.objects.create(
        organisation=house.organisation,
        member=house.owner,
        address="owner@example.org",
        subject=made.message.subject,
        body="One task is overdue.",
        state=Message.State.INTERRUPTED,
        claimed_at=datetime(2026, 3, 2, 6, tzinfo=UTC),
        error="It may have arrived.",
    )
    made.newcomer = invitations.ask(
        name="Ada Pell",
        email=f"ada@{house.organisation.slug}.example",
        role="counter",
        member=house.owner,
    )
    made.newcomer.asked_at = NOW - timedelta(hours=1)  # long enough ago for another mail
    made.newcomer.save(update_fields=["asked_at"])
