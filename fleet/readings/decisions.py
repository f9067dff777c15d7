"""What people decide about readings, and how they undo it. No reading is ever changed or deleted."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.core.errors import AskFirst, FleetError, WrongState
from fleet.core.permission import require, require_own
from fleet.models import Decision, Machine, Member, Reading
from fleet.readings.meter_history import Courses
from fleet.readings.propagation import hours_moved
from fleet.readings.rejudging import rejudge
from fleet.readings.submission import MOST_HOURS, Unreadable, read_hours, read_moment
from fleet.usage.figures import hours, long_day

COUNTED, HELD, DISCARDED = Reading.State.COUNTED, Reading.State.HELD, Reading.State.DISCARDED
OWN_FOR = timedelta(hours=48)  # for so long whoever took a reading may put their own slip right
STANDING = ["state", "decided_by", "decided_at", "decision"]
NOW = {
    COUNTED: gettext_lazy("This reading is counted now. Look at it again."),
    HELD: gettext_lazy("This reading is held now. Look at it again."),
    DISCARDED: gettext_lazy("This reading is discarded now. Look at it again."),
}
ALREADY = {
    COUNTED: gettext_lazy("This reading is counted already."),
    DISCARDED: gettext_lazy("This reading is discarded already."),
}
ALREADY_BY = {
    COUNTED: gettext_lazy("{person} has counted this reading already."),
    DISCARDED: gettext_lazy("{person} has discarded this reading already."),
}


def count(*, reading: Reading, member: Member, note: str = "", confirmed: bool = False) -> Reading:
    """Let a held reading count as it stands.

    confirmed: also where that sets the machine's hours back, or contradicts what else is counted.
    Raises NotAllowed; WrongState when it isn't held any more; FleetError when it is still to come; AskFirst
    on `confirmed`, with what would follow, where that has to be confirmed and isn't.
    """
    now = timezone.now()
    with transaction.atomic():
        machines = _lock(member, reading)
        _expect(reading, HELD)
        if reading.taken_at > now:
            raise FleetError(_("This reading is dated in the future. Correct its time, or discard it."))
        if not confirmed and (follows := _contradicts(reading, machines[reading.machine_id])):
            raise AskFirst(follows, field="confirmed")
        _decide(reading, Decision.Kind.COUNTED, COUNTED, member, note, now)
        _moved(machines, reading.taken_at, now)
    return reading


def discard(*, reading: Reading, member: Member, note: str) -> Reading:
    """Withdraw a held or a counted reading; it is kept, with the reason. The machine's hours follow.

    Raises NotAllowed; WrongState when it is discarded already; FleetError on `note` when no reason is given.
    """
    now = timezone.now()
    if not note.strip():
        raise FleetError(_("Say why the reading is discarded."), field="note")
    with transaction.atomic():
        machines = _lock(member, reading)
        _expect(reading, HELD, COUNTED)
        counted = reading.state == COUNTED
        _decide(reading, Decision.Kind.DISCARDED, DISCARDED, member, note, now)
        if counted:
            _moved(machines, reading.taken_at, now)
    return reading


def correct(
    *,
    reading: Reading,
    shows: Decimal,
    member: Member,
    note: str = "",
    taken_at: datetime | None = None,
) -> Reading:
    """Put a new, counted reading in the place of a wrong one, which is discarded; return the new one.

    shows: what the meter truly showed, in hours. taken_at: when it was truly read, if that was wrong too.
    Whoever took the reading may do so for 48 hours, whatever their role.
    Raises NotAllowed; WrongState when it is discarded already; FleetError on `shows` or `taken_at` when the
    new figures can't be true either or are those of another reading.
    """
    now = timezone.now()
    try:
        shows, moment = read_hours(shows), reading.taken_at
        if taken_at is not None:
            moment = read_moment(taken_at)
    except Unreadable as error:
        field = "taken_at" if "time" in error.code else "shows"
        raise FleetError(error.reason, field=field) from None
    with transaction.atomic():
        own = reading.taken_by_id == member.pk and now - reading.received_at <= OWN_FOR
        machines = _lock(member, reading, own=own)
        _expect(reading, HELD, COUNTED)
        machine = machines[reading.machine_id]
        new = _in_its_place(reading, machine, moment, shows, member, note, now)
        said = note.strip() or _("Corrected to {hours}.").format(hours=hours(shows))
        _decide(reading, Decision.Kind.CORRECTED, DISCARDED, member, said, now, made=new)
        _moved(machines, min(reading.taken_at, moment), now)
    return new


def swap(*, reading: Reading, other: Reading, member: Member, note: str = "") -> tuple[Reading, Reading]:
    """Two machines' readings were written down for each other's: put each where it belongs.

    Both are discarded, and each machine gets a new counted reading with the other's figure and time; returned
    in the order of the arguments' machines. Raises NotAllowed; WrongState when one is discarded already;
    FleetError when they are of one machine, or a figure doesn't fit the other machine either.
    """
    now = timezone.now()
    if reading.machine_id == other.machine_id:
        raise FleetError(_("These are readings of one machine; there is nothing to swap."))
    with transaction.atomic():
        machines = _lock(member, reading, other)
        made = []
        for mine, theirs in ((reading, other), (other, reading)):
            _expect(mine, HELD, COUNTED)
            machine = machines[mine.machine_id]
            made.append(_in_its_place(mine, machine, theirs.taken_at, theirs.shows, member, note, now))
        first = None
        for mine, theirs, new in ((reading, other, made[0]), (other, reading, made[1])):
            said = note.strip() or _("Swapped with {hours} of {machine}.").format(
                hours=hours(theirs.shows), machine=machines[theirs.machine_id]
            )
            first = _decide(
                mine, Decision.Kind.SWAPPED, DISCARDED, member, said, now, made=new, along_with=first
            )
        _moved(machines, min(reading.taken_at, other.taken_at), now)
    return made[0], made[1]


def undo(*, reading: Reading, member: Member, note: str = "") -> Reading:
    """Undo the last decision about a reading; that, too, is kept as a decision.

    The reading gets the state it had before, and what was put in its place is discarded. One that counted
    before and no longer fits what has come in since is held. The other half of a swap is undone with it.
    Raises NotAllowed; WrongState when there is no decision to undo, when the meter's change made it, or
    when what was put in its place has been decided about since.
    """
    now = timezone.now()
    with transaction.atomic():
        decision = reading.decisions.standing().first()
        halves = [] if decision is None else _halves(decision)
        readings = [half.reading for half in halves] or [reading]
        machines = _lock(member, *readings)
        standing = reading.decisions.standing().first()  # as it is now that the machine is locked
        if standing is None or decision != standing:
            raise WrongState(_("There is no decision about this reading to undo."))
        if standing.kind == Decision.Kind.METER:
            raise WrongState(_("It counts because the meter change was recorded. Discard it if it is wrong."))
        since = min(each.taken_at for each in readings)
        for half in halves:
            if half.made is not None:
                since = min(since, half.made.taken_at)
                _withdraw(half, member, note, now)
        for half in halves:
            _restore(half, machines[half.reading.machine_id], member, note, now)
        _moved(machines, since, now)
    reading.refresh_from_db()
    return reading


def _halves(decision: Decision) -> list[Decision]:
    """The decision itself, and the other one of a swap."""
    pair = Decision.objects.filter(along_with=decision).select_related("reading", "made").first()
    other = decision.along_with or pair
    return [decision] if other is None else [decision, other]


def _withdraw(decision: Decision, member: Member, note: str, now: datetime) -> None:
    """Discard what a decision put in a reading's place."""
    made = decision.made
    assert made is not None
    made.refresh_from_db()
    if made.state != COUNTED or made.decisions.standing().exists():
        raise WrongState(
            _("{hours}, which replaced it, has been decided about since. Undo that first.").format(
                hours=hours(made.shows)
            )
        )
    _decide(made, Decision.Kind.UNDONE, DISCARDED, member, note or _("Undone."), now)


def _restore(decision: Decision, machine: Machine, member: Member, note: str, now: datetime) -> None:
    """Give a reading back the state that it had before a decision."""
    reading = decision.reading
    if reading.state != decision.became:
        raise WrongState(str(NOW[Reading.State(reading.state)]))
    was, reading.state = reading.state, decision.was
    before = reading.decisions.standing().exclude(pk=decision.pk).first()
    by_person = before if before is not None and before.became == decision.was else None
    if decision.was == COUNTED and by_person is None:
        courses = Courses([machine], since=reading.taken_at, until=reading.taken_at, without=reading.pk)
        courses.judge(reading, now=now)
    reading.decided_by = by_person.by if by_person else None
    reading.decided_at = by_person.at if by_person else None
    reading.decision = by_person.note if by_person else ""
    reading.save(update_fields=[*STANDING, "code", "reason", "suggestion", "suggested_at"])
    Decision.objects.create(
        organisation_id=reading.organisation_id,
        reading=reading,
        kind=Decision.Kind.UNDONE,
        was=was,
        became=reading.state,
        by=member,
        at=now,
        note=note.strip(),
        undoes=decision,
    )


def _contradicts(reading: Reading, machine: Machine) -> str:
    """What speaks against counting a reading as it stands, in a sentence; "" where nothing does."""
    counted = Reading.history(machine=machine)
    later = counted.after(reading.taken_at)
    other = later.filter(hours__lt=reading.hours).first()
    if other is not None:
        said = _(
            "{total} in total was counted later, on {day}: the machine can't have run backwards. "
            "One of the two is wrong: discard it. Or confirm that this one is to count anyway."
        )
    else:
        other = counted.by(reading.taken_at).filter(hours__gt=reading.hours).first()
        if other is None:
            return ""
        said = (
            _(
                "{total} in total was counted before it, on {day}: the machine can't have run backwards. "
                "One of the two is wrong: discard it. Or confirm that this one is to count anyway."
            )
            if later.exists()
            else _(
                "This sets {machine} back from {now} to {then}, and what is due with it: {total} in total "
                "was counted before it, on {day}. If that one is wrong, discard it; or confirm that this "
                "one counts."
            )
        )
    return said.format(
        total=hours(other.hours),
        day=long_day(other.taken_at.astimezone(machine.zoneinfo)),
        machine=machine,
        now=hours(machine.hours),
        then=hours(reading.hours),
    )


def _in_its_place(
    wrong: Reading,
    machine: Machine,
    moment: datetime,
    shows: Decimal,
    member: Member,
    note: str,
    now: datetime,
) -> Reading:
    """Return a counted reading to be stored in the place of a wrong one: a new one, or one discarded with it.

    Raises FleetError on `shows` or `taken_at` when it can't be true or is another reading.
    """
    courses = Courses([machine], since=moment, until=moment, without=wrong.pk)
    meter = courses.at(machine.pk, moment).meter
    total = shows + meter.offset
    if not 0 <= total <= MOST_HOURS:
        raise FleetError(_("The machine's total can't be right. Read the meter again."), field="shows")
    new = Reading(
        organisation_id=wrong.organisation_id,
        machine=machine,
        taken_at=moment,
        shows=shows,
        source=Reading.Source.CORRECTION,
        received_at=now,
        corrects=wrong,
    )
    same = courses.received.get((machine.pk, moment, shows))
    if same is not None:
        new = Reading.objects.get(pk=same)
        if new.corrects_id != wrong.pk or new.state != DISCARDED:
            raise FleetError(
                _("There is a reading with that time and figure already. Count or discard that one."),
                field="shows",
            )
    new.machine, new.segment_id, new.hours, new.taken_by = machine, meter.pk, total, member
    new.note = note.strip()
    new.decided_by = new.decided_at = None
    new.decision = ""
    courses.judge(new, now=now)
    if new.state != COUNTED:
        raise FleetError(new.reason, field="taken_at" if new.code == "from_future" else "shows")
    return new


def _lock(member: Member, *readings: Reading, own: bool = False) -> dict[int, Machine]:
    """Lock the readings' machines until the transaction ends, and bring the readings' state up to date.

    own: the member may decide about them as their own. Raises NotAllowed.
    """
    if own:
        require_own(member, *readings)
    else:
        require(member, "decide_readings", _("decide about readings"), *readings)
    machines = (
        Machine.objects.select_related("yard__organisation")
        .select_for_update(of=("self",))
        .filter(pk__in={reading.machine_id for reading in readings})
        .order_by("pk")
    )
    locked = {machine.pk: machine for machine in machines}
    for reading in readings:
        reading.refresh_from_db(fields=[*STANDING, "segment", "hours"])
    return locked


def _expect(reading: Reading, *states: str) -> None:
    if reading.state not in states:
        state, person = Reading.State(reading.state), reading.decided_by
        said = ALREADY_BY[state].format(person=person) if person else str(ALREADY[state])
        raise WrongState(said)


def _decide(
    reading: Reading,
    kind: str,
    state: str,
    member: Member,
    note: str,
    now: datetime,
    *,
    made: Reading | None = None,
    along_with: Decision | None = None,
) -> Decision:
    """Set the reading's state and keep the decision."""
    was, reading.state = reading.state, state
    reading.decided_by, reading.decided_at, reading.decision = member, now, note.strip()
    reading.save(update_fields=STANDING)
    if made is not None:
        made.save(force_insert=made._state.adding)
    return Decision.objects.create(
        organisation_id=reading.organisation_id,
        reading=reading,
        kind=kind,
        was=was,
        became=state,
        by=member,
        at=now,
        note=note.strip(),
        made=made,
        along_with=along_with,
    )


def _moved(machines: Mapping[int, Machine], since: datetime, now: datetime) -> None:
    """What counted changed at `since`: judge the rest again, and let the machines' hours follow."""
    rejudge(machines, since=since, now=now)
    hours_moved(dict(machines), now=now)
