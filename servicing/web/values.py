"""Values: how does what is measured on a machine drift, and when will it reach its limit?"""

from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from fleet.models import Machine
from fleet.web.guards import MemberRequest, members_only
from servicing.duties import value_trends
from servicing.duties.projection import Days
from servicing.duties.value_trends import Series
from servicing.ledger.trend import LEAST, SURE
from servicing.measurements import limits
from servicing.models import Duty
from servicing.web.charts.value_chart import Plot, draw

A_STRETCH = 100  # hours: slopes are said for so many


@dataclass(frozen=True)
class Shown:
    """One measured check as the page shows it."""

    duty: Duty
    series: Series
    plot: Plot | None
    days: Days | None

    @property
    def limit(self) -> str:
        """What passes, in words."""
        check = self.series.check
        return limits.said(check.lower, check.upper, check.unit, check.target)

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
    return render(
        request,
        "servicing/drift.html",
        {
            "machine": machine,
            "heading_for": sorted(
                (each for each in shown if each.days), key=lambda each: each.series.outlook.crossing.hours
            ),
            "others": [each for each in shown if each.plot and not each.days],
            "unmeasured": [each for each in shown if not each.plot],
            "least": LEAST,
            "percent": round(SURE * 100),
            "stretch": A_STRETCH,
        },
    )
