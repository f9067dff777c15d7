"""How good were we: the ledger's page on our own projections."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe

from fleet.reliability import draw
from fleet.web.guards import needs
from servicing.scorecard import scorecard


@needs("see_ledger")
def ledger_track(request: HttpRequest) -> HttpResponse:
    """Show the scores of kept projections beside the rules people use by hand."""
    card = scorecard()
    # the drawing is made of numbers alone
    plot = mark_safe(draw(card.said, card.came)) if card else ""
    return render(request, "servicing/ledger_track.html", {"card": card, "plot": plot})
