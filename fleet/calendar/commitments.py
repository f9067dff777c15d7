"""What a machine's days are promised to: the one calendar for sending out, booking and planning work.

Tag-outs, hires and bookings are the fleet's. What else takes a machine's days is asked of the functions in
`also_promised`, which the app that knows of it fills in its AppConfig.

An attachment goes where its host goes: its tag-outs and its work concern the host, the host's hires and
bookings concern it.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q, TextChoices
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.core.errors import WrongState
from fleet.models import Booking, Hire, Machine, Member, Mounting, TagOut
from fleet.models.overruling import Overruling
from fleet.usage.figures import first_and_last, long_day


class Kind(TextChoices):
    """What a day is promised to, gravest first."""

    TAGGED_OUT = "tagged-out", gettext_lazy("Tagged out")
    HIRED = "hired", gettext_lazy("Out on hire")
    BOOKED = "booked", gettext_lazy("Booked")
    WORK = "work", gettext_lazy("Work planned")


@dataclass(frozen=True)
class Days:
    """The days asked about, of the machine's yard, both included. last None: no end is known."""

    machine: Machine
    first: date
    last: date | None

    def meet(self, first: date, last: date | None) -> bool:
        """Whether a day lies in both."""
        return (self.last is None or first <= self.last) and (last is None or last >= self.first)


@dataclass(frozen=True)
class Promise:
    """One thing that takes days of a machine. pk: of its row. last_on None: nobody has said until when."""

    kind: Kind
    pk: int
    sentence: str
    first_on: date
    last_on: date | None


Reach = Mapping[int, Sequence[Days]]
"""By a machine's id: the days asked about which something that takes this machine concerns."""

also_promised: list[Callable[[Reach, datetime], Iterable[tuple[Days, Promise]]]] = []
"""Called with the reach of work on machines and the moment; returns promises that may meet the days."""


class Promised(WrongState):
    """Days are promised already; `conflicts` are all the promises in the way."""

    code = "promised"

    def __init__(self, sentence: str, *, conflicts: Sequence[Promise], field: str | None = None) -> None:
        super().__init__(sentence, field=field)
        self.conflicts = tuple(conflicts)


def promises(
    machine: Machine,
    *,
    first: date,
    last: date | None,
    now: datetime | None = None,
    kinds: Collection[str] = tuple(Kind),
) -> list[Promise]:
    """Return what is promised of one machine's days, gravest first; see `promises_of`."""
    return promises_of([Days(machine, first, last)], now=now, kinds=kinds)[machine.pk]


def promises_of(
    asked: Iterable[Days], *, now: datetime | None = None, kinds: Collection[str] = tuple(Kind)
) -> dict[int, list[Promise]]:
    """Return what is promised of these days, by machine id, gravest and earliest first.

    A tag-out lasts until somebody clears it. A hire lasts until it is due back, one overdue until the end of
    today, one without a day has no end. One query for each kind, and one for what hangs on what.
    """
    days = {each.machine.pk: each for each in asked}
    if not days:
        return {}
    now = now or timezone.now()
    alone: dict[int, list[Days]] = defaultdict(list, {pk: [each] for pk, each in days.items()})
    hosts, carried = defaultdict(list, alone), defaultdict(list, alone)
    hung = Mounting.objects.open().filter(Q(machine__in=days) | Q(attachment__in=days))
    for machine, attachment in hung.values_list("machine", "attachment"):
        if attachment in days:
            hosts[machine] = [*hosts[machine], days[attachment]]
        if machine in days:
            carried[attachment] = [*carried[attachment], days[machine]]
    found: dict[int, list[Promise]] = {pk: [] for pk in days}
    for each, promise in _all(hosts, carried, now, kinds):
        if each.meet(promise.first_on, promise.last_on):
            found[each.machine.pk].append(promise)
    order = list(Kind.values)
    for some in found.values():
        some.sort(key=lambda p: (order.index(p.kind), p.first_on, p.pk))
    return found


def overrule(
    conflicts: Sequence[Promise],
    *,
    to: str,
    member: Member,
    reason: str,
    now: datetime | None = None,
    field: str = "override_reason",
) -> Overruling | None:
    """Return what is to be kept of going on against these; None where nothing is in the way.

    to: what is done, after "to", as "book it", in the reader's language. Raises Promised without the right
    to plan orders, and without a reason.
    """
    if not conflicts:
        return None
    said = " ".join(each.sentence for each in conflicts)
    if not member.rights.plan_orders:
        told = _("{said} Ask someone who plans the work to {to}.").format(said=said, to=to)
        raise Promised(told, conflicts=conflicts)
    if not reason.strip():
        told = _("{said} To {to} anyway, say why.").format(said=said, to=to)
        raise Promised(told, conflicts=conflicts, field=field)
    against = tuple(each.sentence for each in conflicts)
    return Overruling(against, reason.strip(), str(member), now or timezone.now())


def hold(machine: Machine) -> Machine:
    """Lock a machine, and first the one it hangs on, until the transaction ends; return it as it is now.

    Whoever promises its days holds it meanwhile, so that no two people promise the same day.
    """
    hosts = Mounting.objects.open().filter(attachment=machine.pk).values("machine")
    list(Machine.objects.select_for_update(of=("self",)).filter(pk__in=hosts))
    return (
        Machine.objects.select_related("type", "yard__organisation")
        .select_for_update(of=("self",))
        .get(pk=machine.pk)
    )


def tagged(tag_out: TagOut, machine: Machine) -> str:
    """Return a sentence: by whom it is tagged out, since when and why."""
    day, reason = long_day(machine.today(tag_out.placed_at)), ended(tag_out.reason)
    if tag_out.placed_by is None:
        return _("Tagged out by a person who has left on {day}: {reason}").format(day=day, reason=reason)
    said = _("Tagged out by {who} on {day}: {reason}")
    return said.format(who=tag_out.placed_by, day=day, reason=reason)


def hired(hire: Hire, machine: Machine) -> str:
    """Return a sentence: with whom it is out, since when and until when."""
    since = long_day(machine.today(hire.out_at))
    if hire.due_back_on is None:
        said = _("Out with {hirer} since {since}, no day agreed for its return.")
        return said.format(hirer=hire.hirer, since=since)
    said = _("Out with {hirer} since {since}, due back {back}.")
    return said.format(hirer=hire.hirer, since=since, back=long_day(hire.due_back_on))


def booked(booking: Booking) -> str:
    """Return a sentence: for whom it is booked, and on which days."""
    if booking.first_on == booking.last_on:
        said = _("Booked for {what} on {first}.")
        return said.format(what=booking.what, first=long_day(booking.first_on))
    first, last = first_and_last(booking.first_on, booking.last_on)
    return _("Booked for {what} from {first} to {last}.").format(what=booking.what, first=first, last=last)


def ended(text: str) -> str:
    """Return what a person wrote as a sentence with its full stop."""
    text = text.strip()
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _all(
    hosts: Reach, carried: Reach, now: datetime, kinds: Collection[str]
) -> Iterator[tuple[Days, Promise]]:
    if Kind.TAGGED_OUT in kinds:
        yield from _tag_outs(carried)
    if Kind.HIRED in kinds:
        yield from _hires(hosts, now)
    if Kind.BOOKED in kinds:
        yield from _bookings(hosts)
    if Kind.WORK in kinds:
        for known in also_promised:
            yield from known(carried, now)


def _tag_outs(reach: Reach) -> Iterator[tuple[Days, Promise]]:
    open_ones = TagOut.objects.open().filter(machine__in=reach)
    for each in open_ones.select_related("placed_by__user", "machine"):
        for days in reach[each.machine_id]:
            since, sentence = days.machine.today(each.placed_at), tagged(each, days.machine)
            if each.machine_id != days.machine.pk:
                hangs = _("{attachment} is mounted on it.").format(attachment=each.machine)
                sentence = f"{hangs} {sentence}"
            yield days, Promise(Kind.TAGGED_OUT, each.pk, sentence, since, None)


def _hires(reach: Reach, now: datetime) -> Iterator[tuple[Days, Promise]]:
    for each in Hire.objects.open().filter(machine__in=reach):
        for days in reach[each.machine_id]:
            until = each.due_back_on and max(each.due_back_on, days.machine.today(now))
            since = days.machine.today(each.out_at)
            yield days, Promise(Kind.HIRED, each.pk, hired(each, days.machine), since, until)


def _bookings(reach: Reach) -> Iterator[tuple[Days, Promise]]:
    earliest = min(days.first for some in reach.values() for days in some)
    for each in Booking.objects.standing().from_day(earliest).filter(machine__in=reach):
        for days in reach[each.machine_id]:
            yield days, Promise(Kind.BOOKED, each.pk, booked(each), each.first_on, each.last_on)
