"""Values: how does what is measured on a machine drift, and when will it reach its limit?"""

from dataclasses import dataclass, replace
from decimal import Decimal

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from fleet.models import Machine
from fleet.usage.figures import marked
from fleet.web.guards import MemberRequest, members_only
from servicing.duties import value_trends
from servicing.duties.projection import Days
from servicing.duties.value_trends import Series
from servicing.ledger.held_back import LEAST
from servicing.ledger.robust_line import SURE
from servicing.ledger.trend import LEVEL
from servicing.measurements import limits
from servicing.models import Duty
from servicing.web.charts.value_chart import Plot, draw

A_STRETCH = 100  # hours: slopes are said for so many
OPEN = 3  # values heading for a limit, the first to reach it first, whose pictures are open


@dataclass(frozen=True)
class Shown:
    """One measured check as the page shows it."""

    duty: Duty
    series: Series
    plot: Plot | None
    days: Days | None
    is_soon: bool = False

    @property
    def limit(self) -> str:
        """What passes, in words."""
        check = self.series.check
        return limits.said(check.lower, check.upper, check.unit, check.target)

    @property
    def ahead(self) -> Decimal | None:
        """The limit that it is heading for."""
        crossing = self.series.outlook.crossing or self.series.outlook.vague
        if crossing is None:
            return None
        return self.series.check.upper if crossing.upper else self.series.check.lower

    @property
    def last(self) -> str:
        """The last value, as it was left where it was adjusted."""
        return marked(f"{self._last:g}")

    @property
    def is_outside(self) -> bool:
        """Whether it was left outside the limits."""
        return self.series.is_outside(self._last)

    @property
    def is_open(self) -> bool:
        """Whether its picture is seen at once."""
        return self.is_soon or self.is_outside or self.series.outlook.vague is not None

    @property
    def _last(self) -> float:
        return self.series.outlook.run[-1][1]

    @property
    def per_stretch(self) -> dict[str, float] | None:
        """The robust slope with its interval, and that by least squares with its standard error."""
        trend, fit = self.series.outlook.trend, self.series.outlook.fit
        if trend is None or fit is None:
            return None
        rates = {
            "slope": trend.slope,
            "low": trend.low,
            "high": trend.high,
            "least_squares": fit.slope,
            "error": fit.slope_error,
        }
        return {name: rate * A_STRETCH for name, rate in rates.items()}

    @property
    def brought_forward(self) -> bool:
        """Whether the duty's earlier mark came of this check."""
        return self.duty.forward_check_id == self.series.check.pk


@members_only
def machine_drift(request: MemberRequest, pk: int) -> HttpResponse:
    """Show every measured check of the machine's duties with its values, limits and projected crossing."""
    machine = get_object_or_404(
        Machine.objects.visible_to(request.member).select_related("type", "yard__organisation"), pk=pk
    )
    duties = list(
        Duty.objects.live().filter(machine=machine).with_everything().order_by("task__position", "pk")
    )
    found = value_trends.series(duties)
    pairs = [(duty, each) for duty in duties for each in found.get((machine.pk, duty.task_id), ())]
    crossing = [each for _, each in pairs if each.outlook.crossing]
    days = value_trends.crossing_days(
        machine, [each.outlook.crossing for each in crossing if each.outlook.crossing], now=timezone.now()
    )
    of_check = {each.check.pk: day for each, day in zip(crossing, days, strict=True)}
    shown = [
        Shown(
            duty,
            each,
            draw(each, float(machine.hours)) if each.points else None,
            of_check.get(each.check.pk),
        )
        for duty, each in pairs
    ]
    heading_for = sorted((each for each in shown if each.days), key=_reached)
    steady = [each for each in shown if each.plot and not each.days]
    return render(
        request,
        "servicing/drift.html",
        {
            "machine": machine,
            "heading_for": [replace(each, is_soon=n < OPEN) for n, each in enumerate(heading_for)],
            "untold": [each for each in steady if each.series.outlook.vague],
            "others": [each for each in steady if _is_quiet(each)],
            "too_few": [each for each in steady if not each.series.outlook.trend],
            "unmeasured": [each for each in shown if not each.plot],
            "least": LEAST,
            "percent": round(LEVEL * 100),
            "sure": round(SURE * 100),
            "stretch": A_STRETCH,
        },
    )


def _is_quiet(each: Shown) -> bool:
    return each.series.outlook.trend is not None and each.series.outlook.vague is None


def _reached(each: Shown) -> float:
    crossing = each.series.outlook.crossing
    return crossing.hours if crossing else float("inf")
