"""How good were we: the ledger's page on our own projections."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.usage.reliability_plot import draw
from fleet.web.guards import needs
from fleet.web.pictures import source
from servicing.duties.scorecard import scorecard


@needs("see_ledger")
def ledger_track(request: HttpRequest) -> HttpResponse:
    """Show the scores of kept projections beside the rules people use by hand."""
    card = scorecard()
    plot = source(draw(card.said, card.came)) if card else ""
    return render(request, "servicing/ledger_track.html", {"card": card, "plot": plot})
