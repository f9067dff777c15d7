"""Each first step: what of it an organisation has. All ask within its scope, as much for many as for few."""

from datetime import datetime
from zoneinfo import ZoneInfo

from django.db.models import Count, Exists, OuterRef, Q, Subquery
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.accounts.organisations import FIRST_YARD
from fleet.models import Machine, MachineType, Member, Newcomer, Organisation, Reading, SetupStep, Yard
from servicing.figures.missing import how_many_missing
from servicing.first_day.step import Lack, Place, Step, named
from servicing.last_done.asked import State, sheets
from servicing.models import ProgramVersion, Technician

Code = SetupStep.Code


def yards(organisation: Organisation) -> Step:
    """Done with a yard that is more than the one every organisation begins with, or with several."""
    there = list(Yard.objects.order_by("name").values_list("name", "zone"))
    bare = len(there) == 1 and there[0] == (FIRST_YARD, "")
    if not there:
        said = _("There is no yard yet.")
    elif bare:
        said = _("There is one yard, called “{name}”. Give it its own name, and add any others.")
        said = said.format(name=FIRST_YARD)
    else:
        said = ngettext("{number} yard: {names}.", "{number} yards: {names}.", len(there))
        said = said.format(number=len(there), names=named([name for name, _zone in there]))
    return Step(
        code=Code.YARDS,
        done=bool(there) and not bare,
        said=said,
        why=_("Every machine stands in a yard, and its days follow the yard's time zone."),
        places=(Place(_("Yards"), reverse("yards")),),
    )


def machines(organisation: Organisation) -> Step:
    """Done with a machine in service."""
    number = Machine.objects.in_service().count()
    said = ngettext("{number} machine in service.", "{number} machines in service.", number)
    return Step(
        code=Code.MACHINES,
        done=number > 0,
        said=said.format(number=number) if number else _("No machine has been entered yet."),
        why=_("Hours, service and hires are all kept by machine."),
        places=(
            Place(_("Add several from a list"), reverse("machine-list")),
            Place(_("Add a machine"), reverse("machine-new")),
        ),
    )


def programs(organisation: Organisation) -> Step:
    """Done when each model with a machine in service has a current program; a draft is none."""
    versions = ProgramVersion.objects.filter(program__machine_type=OuterRef("pk"))
    models = list(
        MachineType.objects.annotate(
            standing=Count("machines", filter=Q(machines__retired_on=None)),
            has_program=Exists(versions.current()),
            draft=Subquery(versions.drafts().values("pk")[:1]),
        )
        .filter(standing__gt=0)
        .order_by("-standing", "maker", "model")
    )
    without = [model for model in models if not model.has_program]
    if not models:
        said = _("No model has a machine yet.")
    elif without:
        said = ngettext(
            "{without} of {number} models has no service programme.",
            "{without} of {number} models have no service programme.",
            len(without),
        ).format(without=len(without), number=len(models))
    else:
        said = ngettext(
            "{number} model has its programme.", "All {number} models have a programme.", len(models)
        ).format(number=len(models))
    return Step(
        code=Code.PROGRAMS,
        done=bool(models) and not without,
        said=said,
        why=_("A programme says what is due and when. Without one, nothing falls due on a machine."),
        lacks=tuple(_without_program(model) for model in without),
    )


def _without_program(model: MachineType) -> Lack:
    standing: int = model.standing  # type: ignore[attr-defined]  # annotated by `programs`
    draft: int | None = model.draft  # type: ignore[attr-defined]
    if draft is not None:
        there = Place(_("Open the draft"), reverse("program-draft", args=[draft]))
        return Lack(str(model), _("draft waits to be applied"), there)
    note = ngettext("{number} machine", "{number} machines", standing).format(number=standing)
    there = Place(_("Enter its programme"), f"{reverse('program-new')}?machine_type={model.pk}")
    return Lack(str(model), note, there)


def last_done(organisation: Organisation) -> Step:
    """Done when somebody has said of each task that was due before its machine came when it was last done."""
    known = [cell for sheet in sheets(_in_service()) for cell in sheet.cells.values()]
    asked = [cell for cell in known if cell.is_open]
    unknown = sum(cell.state == State.UNKNOWN for cell in known)
    tags = list(dict.fromkeys(cell.machine.tag for cell in asked))
    if not known:
        said = _("It is asked once a machine has a programme.")
    elif asked:
        said = ngettext(
            "Not said for {number} task, on {machines}.",
            "Not said for {number} tasks, on {machines}.",
            len(asked),
        ).format(number=len(asked), machines=named(sorted(tags)))
    elif unknown:
        said = ngettext(
            "Said for every task; {number} is not known and will be inspected.",
            "Said for every task; {number} are not known and will be inspected.",
            unknown,
        ).format(number=unknown)
    else:
        said = _("Said for every task that was due before its machine came.")
    return Step(
        code=Code.LAST_DONE,
        done=bool(known) and not asked,
        said=said,
        why=_("Until somebody says, we count as if all had been done when the machine came."),
        places=(Place(_("Say when it was last done"), reverse("last-done")),) if known else (),
        lacks=tuple(Lack(tag) for tag in sorted(tags)),
    )


def _in_service() -> list[int]:
    return list(Machine.objects.in_service().values_list("pk", flat=True))


def hours(organisation: Organisation) -> Step:
    """Done when each machine with a meter has counted readings of two days: from one day there is no pace."""
    of_machine = Reading.objects.counted().filter(machine=OuterRef("pk"))
    rows = list(
        Machine.objects.in_service()
        .metered()
        .annotate(
            first=Subquery(of_machine.earliest_first().values("taken_at")[:1]),
            last=Subquery(of_machine.latest_first().values("taken_at")[:1]),
        )
        .order_by("tag")
        .values_list("tag", "yard__zone", "first", "last")
    )
    unread = [tag for tag, zone, first, last in rows if not _two_days(first, last, zone or organisation.zone)]
    if not rows:
        said = _("There is no machine to read yet.")
    elif unread:
        said = ngettext(
            "{unread} of {number} machines has been read only once or never: {names}.",
            "{unread} of {number} machines have been read only once or never: {names}.",
            len(unread),
        ).format(unread=len(unread), number=len(rows), names=named(unread))
    else:
        said = ngettext(
            "{number} machine has been read on more than one day.",
            "All {number} machines have been read on more than one day.",
            len(rows),
        ).format(number=len(rows))
    return Step(
        code=Code.HOURS,
        done=bool(rows) and not unread,
        said=said,
        why=_(
            "Two readings or more show how fast a machine runs up hours. "
            "Until then its forecast is what is usual for others."
        ),
        places=(
            Place(_("From a file or notebook"), reverse("reading-files")),
            Place(_("Enter hours"), reverse("reading-new")),
        ),
        lacks=tuple(Lack(tag) for tag in unread),
    )


def _two_days(first: datetime | None, last: datetime | None, zone: str) -> bool:
    """Whether there are readings of more than one day, as the yard has its days."""
    if first is None or last is None:
        return False
    place = ZoneInfo(zone)
    return first.astimezone(place).date() != last.astimezone(place).date()


def people(organisation: Organisation) -> Step:
    """Done when another than one person alone may sign in, or is awaited."""
    members = Member.objects.active().count()
    awaited = Newcomer.objects.awaited().count()
    working = Technician.objects.working().count()
    parts = [ngettext("{number} person can sign in", "{number} people can sign in", members)]
    if awaited:
        parts.append(ngettext("{awaited} is invited", "{awaited} are invited", awaited))
    said = ", ".join(parts).format(number=members, awaited=awaited) + "."
    jobs = ngettext(
        "{number} technician can be given jobs.", "{number} technicians can be given jobs.", working
    ).format(number=working)
    nobody = _("Nobody can be given a job yet: add somebody as a technician.")
    return Step(
        code=Code.PEOPLE,
        done=members + awaited > 1,
        said=f"{said} {jobs if working else nobody}",
        why=_("With a sign-in of their own, people enter hours and close jobs in their own name."),
        places=(Place(_("People"), reverse("people")),),
    )


def figures(organisation: Organisation) -> Step:
    """Done when there is a machine, and no minutes, price or rate is missing."""
    number = how_many_missing(None)
    words = {
        "minutes": ngettext("minutes of {number} task", "minutes of {number} tasks", number["minutes"]),
        "costs": ngettext("price of {number} part", "prices of {number} parts", number["costs"]),
        "rates": ngettext("rate of {number} technician", "rates of {number} technicians", number["rates"]),
        "prices": ngettext("price of {number} machine", "prices of {number} machines", number["prices"]),
    }
    missing = [words[kind].format(number=number[kind]) for kind in words if number[kind]]
    there = Machine.objects.in_service().exists()
    if missing:
        said = _("Never entered: {what}.").format(what=", ".join(missing))
    else:
        said = _("All are entered.") if there else _("They are asked for once there are machines.")
    return Step(
        code=Code.FIGURES,
        done=there and not missing,
        said=said,
        why=_("Minutes plan the day; prices and rates say what a machine costs."),
        places=(Place(_("Missing figures"), reverse("missing-figures")),) if missing else (),
        lacks=tuple(Lack(words[kind].format(number=number[kind])) for kind in words if number[kind]),
    )
