"""How good were we: the ledger's page on our own projections."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.web.guards import needs
from servicing.duties.scorecard import scorecard
from servicing.web.charts.reliability_chart import reliability_chart


@needs("see_ledger")
def ledger_track(request: HttpRequest) -> HttpResponse:
    """Show the scores of kept projections beside the rules people use by hand."""
    card = scorecard()
    chart = reliability_chart(card.said.tolist(), card.came.tolist()) if card else None
    return render(request, "servicing/ledger_track.html", {"card": card, "chart": chart})
