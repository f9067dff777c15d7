"""Can this machine go out? One answer a machine, with the reasons in whole sentences."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.db.models import Q, QuerySet, TextChoices
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext_lazy

from fleet.calendar.commitments import Days, Kind, Promise, ended, hired, promises_of, tagged
from fleet.core.wording import day, hours, likely_days
from fleet.models import Hire, Machine, Mounting, TagOut
from servicing.models import Duty, Fault, Task
from servicing.planning.intervals import Mark


class Verdict(TextChoices):
    """What the gate says of a machine."""

    READY = "ready", pgettext_lazy("at the gate", "Ready")
    SERVICE_FIRST = "service first", pgettext_lazy("at the gate", "Service first")
    OUT = "out on hire", pgettext_lazy("at the gate", "Out on hire")
    IN_SHOP = "in the shop", pgettext_lazy("at the gate", "In the shop")
    TAGGED_OUT = "tagged out", pgettext_lazy("at the gate", "Tagged out")


TAKES_DAYS = (Kind.BOOKED, Kind.WORK)
GRAVITY = (Verdict.TAGGED_OUT, Verdict.IN_SHOP, Verdict.OUT, Verdict.SERVICE_FIRST)


@dataclass(frozen=True)
class Answer:
    """The verdict on one machine. `reasons` speak against its going out, gravest first; `notes` don't."""

    machine: Machine
    verdict: Verdict = Verdict.READY
    reasons: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    hire: Hire | None = None
    held: str = ""  # said when hours just typed are held
    promised: tuple[Promise, ...] = ()  # bookings and planned work of today, or until it is due back
    invented: bool = False  # a reason or note rests on invented figures

    @property
    def is_ready(self) -> bool:
        """Whether it can go out now."""
        return self.verdict == Verdict.READY


@dataclass
class _Case:
    """What speaks against a machine, by the verdict it leads to."""

    machine: Machine
    against: dict[Verdict, list[str]] = field(default_factory=dict)
    care: list[Duty] = field(default_factory=list)  # what the operator does
    due_back_on: date | None = None
    hire: Hire | None = None
    promised: tuple[Promise, ...] = ()
    invented: bool = False

    def add(self, verdict: Verdict, sentence: str) -> None:
        self.against.setdefault(verdict, []).append(sentence)

    def close(self) -> Answer:
        found = [verdict for verdict in GRAVITY if verdict in self.against]
        return Answer(
            machine=self.machine,
            verdict=found[0] if found else Verdict.READY,
            reasons=tuple(sentence for verdict in found for sentence in self.against[verdict]),
            notes=_care(self.care, self.due_back_on),
            hire=self.hire,
            promised=self.promised,
            invented=self.invented,
        )


def answer(machine: Machine, *, at: datetime | None = None, due_back_on: date | None = None) -> Answer:
    """Return the answer for one machine; see `answers`."""
    return answers([machine], at=at, due_back_on=due_back_on)[machine.pk]


def answers(
    machines: Iterable[Machine], *, at: datetime | None = None, due_back_on: date | None = None
) -> dict[int, Answer]:
    """Judge machines by tag-outs, the shop, hires, grave faults and duties; return answers by machine id.

    Service comes first when a duty is overdue, is likely within the organisation's margin of days, or
    has at least one chance in ten of falling due by `due_back_on`. Work that the operator does (daily care)
    counts only once it is overdue; before that it is a note, to be told to the hirer. An attachment goes out
    with the machine it is mounted on: its tag-outs, grave faults and overdue duties speak against that.
    Bookings and planned work don't: who takes it may be the one it is booked for. They are `promised`.

    at: the moment judged, now when left out; each machine's day is its yard's. The number of queries is the
    same for one machine and for many, given machines that were loaded with `yard__organisation`.
    """
    cases = {machine.pk: _Case(machine, due_back_on=due_back_on) for machine in machines}
    days = {pk: case.machine.today(at) for pk, case in cases.items()}
    for tag_out in TagOut.objects.open().filter(machine__in=cases).select_related("placed_by__user"):
        case = cases[tag_out.machine_id]
        case.add(Verdict.TAGGED_OUT, tagged(tag_out, case.machine))
    for case in cases.values():
        if case.machine.in_shop_since:
            since = day(case.machine.today(case.machine.in_shop_since))
            case.add(Verdict.IN_SHOP, _("In the shop since {day}.").format(day=since))
    for hire in Hire.objects.open().filter(machine__in=cases).with_people():
        case = cases[hire.machine_id]
        case.hire = hire
        case.add(Verdict.OUT, hired(hire, case.machine))
    for fault in Fault.objects.grave().filter(machine__in=cases).select_related("reported_by__user"):
        case = cases[fault.machine_id]
        case.add(Verdict.SERVICE_FIRST, _grave(fault, case.machine))
    _weigh_attachments(cases, days)
    for duty in _duties_near(cases, days, due_back_on):
        case = cases[duty.machine_id]
        duty.machine = case.machine
        _weigh(duty, case, days[duty.machine_id], due_back_on)
    asked = [Days(case.machine, days[pk], due_back_on or days[pk]) for pk, case in cases.items()]
    for pk, found in promises_of(asked, now=at, kinds=TAKES_DAYS).items():
        cases[pk].promised = tuple(found)
    return {pk: case.close() for pk, case in cases.items()}


def _weigh_attachments(cases: dict[int, _Case], days: dict[int, date]) -> None:
    """Let what is mounted on the machines speak too: four queries if anything does, else one."""
    hung = Mounting.objects.open().filter(machine__in=cases).select_related("attachment")
    on = {mounting.attachment_id: (cases[mounting.machine_id], mounting.attachment) for mounting in hung}
    if not on:
        return
    for tag_out in TagOut.objects.open().filter(machine__in=on).select_related("placed_by__user"):
        case, attachment = on[tag_out.machine_id]
        case.add(Verdict.TAGGED_OUT, _mounted(attachment, tagged(tag_out, case.machine)))
    for fault in Fault.objects.grave().filter(machine__in=on).select_related("reported_by__user"):
        case, attachment = on[fault.machine_id]
        case.add(Verdict.SERVICE_FIRST, _mounted(attachment, _grave(fault, case.machine)))
    for duty in _by_day(Duty.objects.overdue(max(days.values())).filter(machine__in=on)):
        case, duty.machine = on[duty.machine_id]
        if duty.is_overdue(days[case.machine.pk]):
            said = _overdue(duty, days[case.machine.pk])
            case.add(Verdict.SERVICE_FIRST, _mounted(duty.machine, said))
            case.invented |= duty.invented


def _mounted(attachment: Machine, said: str) -> str:
    return _("{machine} is mounted on it. {said}").format(machine=attachment, said=said)


def _duties_near(cases: dict[int, _Case], days: dict[int, date], due_back_on: date | None) -> Iterable[Duty]:
    """Return, in one query, every duty that may matter; each is then weighed by its own yard's day."""
    if not cases:
        return []
    latest = max(days.values())
    margin = max(_margin(case.machine) for case in cases.values())
    near = Q(likely__lte=latest + margin)
    if due_back_on:
        near |= Q(early__lte=due_back_on)
    may_matter = Duty.objects.overdue(latest) | Duty.objects.live().filter(near)
    return _by_day(may_matter.filter(machine__in=cases))


def _by_day(duties: QuerySet[Duty]) -> QuerySet[Duty]:
    return duties.select_related("task__version").order_by("likely", "pk")


def _weigh(duty: Duty, case: _Case, today: date, due_back_on: date | None) -> None:
    if duty.is_overdue(today):
        case.add(Verdict.SERVICE_FIRST, _overdue(duty, today))
        case.invented |= duty.invented
        return
    sentence = ""
    if due_back_on and duty.early and duty.early <= due_back_on:
        sentence = _during_hire(duty, due_back_on)
    elif duty.likely and duty.likely <= today + _margin(case.machine):
        sentence = _soon(duty)
    case.invented |= bool(sentence) and duty.invented
    if sentence and duty.task.skill == Task.Skill.OPERATOR:
        case.care.append(duty)
    elif sentence:
        case.add(Verdict.SERVICE_FIRST, sentence)


def _margin(machine: Machine) -> timedelta:
    return timedelta(days=machine.yard.organisation.hire_margin_days)


def _grave(fault: Fault, machine: Machine) -> str:
    said = _("Fault to fix first (reported on {day}): {fault}")
    if fault.reported_by:
        said = _("Fault to fix first (reported by {who} on {day}): {fault}")
    reported = day(machine.today(fault.reported_at))
    return said.format(who=fault.reported_by, day=reported, fault=ended(fault.text))


def _overdue(duty: Duty, today: date) -> str:
    if Mark(duty.mark_hours).is_reached(duty.machine.hours, today):
        said = _("{task} is overdue: due at {due}, now {hours}.")
    else:
        said = _("{task} was due by {day}.")
    said = said.format(
        task=duty.task, due=hours(duty.mark_hours), hours=hours(duty.machine.hours), day=day(duty.mark_on)
    )
    sentences = [said, *_brought_forward(duty)]
    if duty.is_deferred(today):
        why = ended(duty.deferred_reason or _("no reason given"))
        sentences.append(_("Deferred until {day}: {why}").format(day=day(duty.deferred_until), why=why))
    return " ".join(sentences)


def _soon(duty: Duty) -> str:
    said = _("{task} is likely to fall due on {days}.").format(task=duty.task, days=likely_days(duty))
    return " ".join([said, *_brought_forward(duty)])


def _brought_forward(duty: Duty) -> list[str]:
    """Why it is due earlier than by its rule, where it is."""
    if not duty.forward_reason:
        return []
    return [_("It is due earlier: {why}").format(why=ended(duty.forward_reason))]


def _during_hire(duty: Duty, due_back_on: date) -> str:
    if duty.late and duty.late <= due_back_on:
        said = _(
            "{task} will almost certainly fall due (at least 9 chances in 10) before it is back on {day}"
        )
    elif duty.likely and duty.likely <= due_back_on:
        said = _("{task} will probably fall due (5 to 9 chances in 10) before it is back on {day}")
    else:
        said = _("{task} will perhaps fall due (1 to 5 chances in 10) before it is back on {day}")
    said = said.format(task=duty.task, day=day(due_back_on))
    if duty.likely:
        said = _("{falls_due}; the likely day is {days}").format(falls_due=said, days=likely_days(duty))
    return " ".join([f"{said}.", *_brought_forward(duty)])


def _care(duties: list[Duty], due_back_on: date | None) -> tuple[str, ...]:
    """What the operator should do soon, in one sentence; none where nothing is."""
    if not duties:
        return ()
    tasks = "; ".join(f"{duty.task}" for duty in duties)
    if due_back_on:
        last = due_back_on
        said = ngettext(
            "The operator should expect one task before it is back on {day}: {tasks}.",
            "The operator should expect {number} tasks before it is back on {day}: {tasks}.",
            len(duties),
        )
    else:
        last = max(duty.likely for duty in duties if duty.likely)
        said = ngettext(
            "The operator should do one task by {day}: {tasks}.",
            "The operator should do {number} tasks by {day}: {tasks}.",
            len(duties),
        )
    return (said.format(number=len(duties), day=day(last), tasks=tasks),)
